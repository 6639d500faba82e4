// Patients of a station that are drawn at random within limits, so that nobody knows them from practice:
// one for all, or several dealt in turn. The instructor sees what has been drawn and may draw again.
import { useEffect, useState } from 'preact/hooks';
import { conditionInWords } from '../bedside/debrief';
import { useDrawLimits } from '../bedside/draw_limits';
import { newStationSeed } from '../bedside/drawn';
import { type CaseSummary, personInWords } from '../bedside/types';
import { getJson } from '../lib/api';

interface DrawnCase extends CaseSummary {
  story: string;
  conditions: { id: string; label: string; severity: number; side: string; lobe: string }[];
}

const kMost = 20; // patients of one station

export function DrawnPatients(
  { ids, others, onChange }: { ids: readonly string[]; others: number; onChange: (ids: string[]) => void },
) {
  const { fields, idOf } = useDrawLimits();
  const [howMany, setHowMany] = useState(1);
  const [trouble, setTrouble] = useState('');
  const [isDrawing, setDrawing] = useState(false);
  const draw = async () => {
    setTrouble('');
    if (ids.length + others + howMany > kMost) {
      setTrouble(`A station has at most ${kMost} patients; take some out first.`);
      return;
    }
    setDrawing(true);
    try {
      const made = Array.from({ length: howMany }, () => idOf(newStationSeed()));
      await Promise.all(made.map((id) => getJson(`cases/${id}`))); // says what is wrong with the limits
      onChange([...ids, ...made]);
    } catch (error) {
      setTrouble((error as Error).message);
    }
    setDrawing(false);
  };
  return (
    <div class="stack">
      {ids.length > 0 && (
        <ul class="plain-list cases">
          {ids.map((id) => (
            <li>
              <DrawnOne key={id} id={id} onRemove={() => onChange(ids.filter((one) => one !== id))} />
            </li>
          ))}
        </ul>
      )}
      <details>
        <summary>Draw patients at random</summary>
        <div class="stack card">
          <p class="small soft">
            A drawn patient is on no list, so nobody has practised it. Its checklist must fit whatever is drawn: “Begin
            with” below offers one for any chest.
          </p>
          {fields}
          <label>
            How many{' '}
            <select value={howMany} onChange={(event) => setHowMany(Number(event.currentTarget.value))}>
              {[1, 2, 3, 4, 6, 8, 10].map((n) => (
                <option value={n}>
                  {n === 1 ? 'one, the same for everybody' : `${n}, dealt to the learners in turn`}
                </option>
              ))}
            </select>
          </label>
          {trouble && <p class="notice" role="alert">{trouble}</p>}
          <div class="row">
            <button type="button" disabled={isDrawing} onClick={() => {
              void draw();
            }}>
              {howMany === 1 ? 'Draw a patient' : `Draw ${howMany} patients`}
            </button>
          </div>
        </div>
      </details>
    </div>
  );
}

// Who it is and, for the instructor who must plan, what is wrong. While a station that uses the patient is
// open nobody is told here.
function DrawnOne({ id, onRemove }: { id: string; onRemove: () => void }) {
  const [drawn, setDrawn] = useState<DrawnCase | null>(null);
  useEffect(() => {
    getJson<DrawnCase>(`cases/${id}`).then(setDrawn, () => {/* in use: hidden until the release */});
  }, [id]);
  const wrong = drawn?.conditions.map(conditionInWords).join('; ');
  return (
    <div class="case pick">
      <span class="row">
        <strong class="grow">
          Drawn: {drawn ? personInWords(drawn.person) : 'shown again when no open station uses it'}
        </strong>
        <button type="button" class="plain" onClick={onRemove}>
          Remove<span class="unseen">{' '}the drawn patient{drawn ? `, ${personInWords(drawn.person)}` : ''}</span>
        </button>
      </span>
      {drawn && <span class="soft small">{wrong === '' ? 'nothing wrong' : wrong}</span>}
    </div>
  );
}
