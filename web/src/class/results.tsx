// Results of a station or of the whole class: files to hand over, and statistics that each say in one
// sentence what they mean and how sure they are.
import { useEffect, useState } from 'preact/hooks';
import { download, getJson } from '../lib/api';
import { EstimateText, Interval, points } from './estimate';
import type { ClassRoom, Estimate, Report } from './types';

const files = [
  { form: 'pdf', name: 'PDF sheets', words: 'one page of marks and reasons for each learner' },
  { form: 'csv', name: 'CSV table', words: 'each item of each learner, for a spreadsheet' },
  { form: 'xapi', name: 'xAPI', words: 'statements for a learning record store' },
  { form: 'fhir', name: 'FHIR', words: 'the examinations as R4 bundles, marked as test data' },
  { form: 'nemsis', name: 'NEMSIS codes', words: 'lung findings as registry codes, with what is lost on the way' },
  { form: 'answers', name: 'Drill answers', words: 'every answer of the drill, as CSV' },
] as const;

export function Results({ room }: { room: ClassRoom }) {
  const [station, setStation] = useState(room.stations.find((one) => one.state !== 'draft')?.id ?? '');
  const [report, setReport] = useState<Report | null>(null);
  const [trouble, setTrouble] = useState('');
  const query = station ? `?station=${station}` : '';
  useEffect(() => {
    setReport(null);
    setTrouble('');
    getJson<Report>(`classes/${room.id}/report${query}`).then(setReport, (error: Error) => setTrouble(error.message));
  }, [station]);
  const fetchFile = (form: string) => {
    setTrouble('');
    const path = `classes/${room.id}/export?form=${form}${station ? `&station=${station}` : ''}`;
    download(path, `results.${form === 'answers' ? 'csv' : form === 'pdf' || form === 'csv' ? form : 'json'}`).catch((
      error: Error,
    ) => setTrouble(error.message));
  };
  return (
    <section class="stack" aria-label="Results">
      <label class="field">
        Of<select value={station} onChange={(event) => setStation(event.currentTarget.value)}>
          <option value="">all stations of the class together</option>
          {room.stations.map((one) => <option value={one.id}>{one.title}</option>)}
        </select>
      </label>
      <div class="row no-print" role="group" aria-label="Hand over as">
        {files.map((one) => <button title={one.words} onClick={() => fetchFile(one.form)}>{one.name}</button>)}
      </div>
      {trouble && <p class="notice" role="alert">{trouble}</p>}
      {!report && !trouble && <p role="status">Marking and counting …</p>}
      {report && <ReportView report={report} classId={room.id} />}
    </section>
  );
}

// An interval that spans the whole scale says nothing; then no figure is shown either.
const kWidest = 10; // logits
const isTold = (one: Estimate | null): boolean =>
  one !== null && one.low !== null && one.high !== null && one.high - one.low <= kWidest;

function ReportView({ report, classId }: { report: Report; classId: string }) {
  const unmarked = report.unmarked.length > 0
    && <p>Without a mark: {report.unmarked.map((one) => `${one.name} (${one.why})`).join(', ')}.</p>;
  const told = report.statistics.filter((one) => one.estimate !== null && one.estimate.value !== null);
  const untold = report.statistics.filter((one) => !told.includes(one));
  if (report.learners === 0) {
    return (
      <>
        <p class="soft">Nobody has finished yet.</p>
        {unmarked}
      </>
    );
  }
  return (
    <>
      <p>
        {report.learners} learner{report.learners === 1 ? '' : 's'}.{report.learners < 10 &&
          ' With so few, look at the intervals before the figures.'}
      </p>
      {unmarked}
      <h2>Learners</h2>
      <div class="scroll-x" tabIndex={0} role="region" aria-label="Learners">
        <table class="figures">
          <thead>
            <tr>
              <th scope="col">Name</th>
              <th scope="col">Points</th>
              <th scope="col">Ability</th>
            </tr>
          </thead>
          <tbody>
            {report.abilities.map((one) => (
              <tr>
                <th scope="row" class="plain-head">
                  <a href={`#/class/${classId}/person/${one.person_id}`}>{one.name}</a>
                </th>
                <td>{one.score === null ? '–' : points(one.score)}</td>
                <td>
                  {isTold(one.ability)
                    ? (
                      <>
                        <EstimateText estimate={one.ability} /> <Interval estimate={one.ability} from={-4} to={4} />
                      </>
                    )
                    : <span class="soft">too little to tell</span>}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      <h2>How far the marks can be trusted</h2>
      {untold.length > 0 && <p>Too few learners, items or examiners for: {untold.map((one) => one.name).join(', ')}.
      </p>}
      <div class="cards">
        {told.map((one) => (
          <section class="card statistic">
            <h3>{one.name}</h3>
            <p class="big">
              <EstimateText estimate={one.estimate} />
            </p>
            <p class="small">{one.meaning}</p>
            {one.note && <p class="small notice">{one.note}</p>}
            <p class="small soft">{one.uncertainty} {one.caution}</p>
          </section>
        ))}
      </div>
      <h2>Items</h2>
      {report.items.length === 0 ?
        <p>Too few learners with a mark to compare the items.</p> :
        (
          <div class="scroll-x" tabIndex={0} role="region" aria-label="Items">
            <table class="figures">
              <caption class="small soft">
                Share right: high is easy. Discrimination: whether those who do well overall do well here; near or below
                0, look at the item again.
              </caption>
              <thead>
                <tr>
                  <th scope="col">Item</th>
                  <th scope="col">Share right</th>
                  <th scope="col">Discrimination</th>
                  <th scope="col">Place on the ability scale</th>
                </tr>
              </thead>
              <tbody>
                {report.items.map((one) => (
                  <tr>
                    <th scope="row" class="plain-head">{one.text}</th>
                    <td>
                      <EstimateText estimate={one.difficulty} isShare />
                    </td>
                    <td>
                      <EstimateText estimate={one.discrimination} />
                    </td>
                    <td>
                      {isTold(one.rasch)
                        ? <EstimateText estimate={one.rasch} />
                        : <span class="soft">too little to tell</span>}
                    </td>
                  </tr>
                ))}
              </tbody>
            </table>
          </div>
        )}
      {report.cases.length > 1 && (
        <>
          <h2>Were the patients equally hard?</h2>
          <ul class="plain-list">
            {report.cases.map((one) => (
              <li>
                {one.case_id.replaceAll('_', ' ')}: <EstimateText estimate={one.share} isShare /> of the points,{' '}
                {one.learners} learners
              </li>
            ))}
          </ul>
        </>
      )}
    </>
  );
}
