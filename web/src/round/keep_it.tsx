// What a round leaves for another day: its patient as a case to change, a station with it, or a lesson that begins with
// it.
import { useEffect, useState } from 'preact/hooks';
import { labelsOf } from '../bedside/debrief';
import { clock } from '../bedside/marking';
import type { Encounter } from '../bedside/session';
import type { TreatmentKind } from '../bedside/treat';
import type { ClassSummary } from '../class/types';
import { ask } from '../engine/ask';
import { getJson } from '../lib/api';
import { newId } from '../lib/new_id';
import { address, go } from '../lib/route';
import { keepLesson } from '../show/kept_lessons';
import { kMostNote, writeLesson } from '../show/lesson';

export function KeepIt({ caseId, encounter, treatments }: {
  caseId: string;
  encounter: Encounter;
  treatments: readonly TreatmentKind[];
}) {
  const [classes, setClasses] = useState<ClassSummary[]>([]);
  const [classId, setClassId] = useState('');
  const [trouble, setTrouble] = useState('');
  // In a station nobody steers: an illness that the desk may bring in later has no place there.
  const patient = caseId.split('__')[0]!;
  useEffect(() => {
    getJson<{ classes: ClassSummary[] }>('classes').then(({ classes }) => {
      const own = classes.filter((one) => one.my_role === 'instructor');
      setClasses(own);
      setClassId(own[0]?.id ?? '');
    }, (error: Error) => setTrouble(error.message));
  }, []);
  const keepAsLesson = () => {
    // What the desk and the crew did to the patient, not where somebody listened.
    const steps = ask('steps', { log: encounter.log.value, labels: labelsOf(encounter, treatments) }) ?? [];
    const note = steps.filter((one) => one.kind === 'treat' || one.do === 'steer' || one.do === 'befall')
      .map((one) => `${clock(one.t)} ${one.words}`).join('; ').slice(0, kMostNote);
    const id = newId();
    try {
      keepLesson({ id,
        text: writeLesson({ id, title: encounter.prepared.title,
          screens: [{ screen: { kind: 'patient', id: patient }, note }] }) });
      go('show', 'edit', id);
    } catch (error) {
      setTrouble((error as Error).message);
    }
  };
  return (
    <section class="stack no-print">
      <h2>Keep it</h2>
      <p class="small soft">
        Kept is the patient as the round began. What the desk did is the lesson’s note; a station goes on by itself.
      </p>
      <div class="row">
        <a class="button-link" href={address('build', 'copy', patient)}>As a case</a>
        <button onClick={keepAsLesson}>As a lesson</button>
        {classes.length > 1 && (
          <select aria-label="Class" value={classId} onChange={(event) => setClassId(event.currentTarget.value)}>
            {classes.map((one) => <option value={one.id}>{one.title}</option>)}
          </select>
        )}
        {classId
          ? <a class="button-link" href={address('station', 'new', classId, patient)}>As a station</a>
          : <span class="small soft">A station belongs to a class: make a class first.</span>}
      </div>
      {trouble && <p class="notice" role="alert">{trouble}</p>}
    </section>
  );
}
