// The skills of a whole class at a glance: who is firm in what, and what the class takes for what.
import { useEffect, useState } from 'preact/hooks';
import { ConfusionTable } from '../drill/standing';
import { type Confusion, exercises, type Mode, type Skill } from '../drill/types';
import { getJson } from '../lib/api';
import type { ClassRoom } from './types';

interface ClassSkills {
  learners: { person_id: string; name: string; skills: Skill[] }[];
  confusion: Confusion;
}

export function SkillsMap({ room }: { room: ClassRoom }) {
  const [given, setGiven] = useState<ClassSkills | null>(null);
  const [mode, setMode] = useState<Mode>('name');
  const [trouble, setTrouble] = useState('');
  useEffect(() => {
    getJson<ClassSkills>(`classes/${room.id}/skills`).then(setGiven, (error: Error) => setTrouble(error.message));
  }, [room.id]);
  if (!given) return <p role="status">{trouble || 'One moment …'}</p>;
  const kinds = new Map<string, string>();
  for (const learner of given.learners) {
    for (const skill of learner.skills) if (skill.mode === mode) kinds.set(skill.id, skill.label);
  }
  const ids = [...kinds.keys()];
  return (
    <section class="stack" aria-label="Skills">
      <div class="row" role="group" aria-label="Exercise">
        {exercises.map((one) => (
          <button aria-pressed={mode === one.mode} onClick={() => setMode(one.mode)}>{one.name}</button>
        ))}
      </div>
      {ids.length === 0 ?
        <p class="soft">Nobody has practised this yet.</p>
        : (
          <div class="scroll-x" tabIndex={0} role="region" aria-label="Skills map">
            <table class="map figures">
              <caption class="small soft">
                Right lately, in percent. A frame: firm. A dot below: due again. Empty: not met yet.
              </caption>
              <thead>
                <tr>
                  <td />
                  {ids.map((id) => (
                    <th scope="col">
                      <span>{kinds.get(id)}</span>
                    </th>
                  ))}
                </tr>
              </thead>
              <tbody>
                {given.learners.map((learner) => (
                  <tr>
                    <th scope="row" class="plain-head">
                      <a href={`#/class/${room.id}/person/${learner.person_id}`}>{learner.name}</a>
                    </th>
                    {ids.map((id) => (
                      <SkillCell skill={learner.skills.find((one) => one.mode === mode && one.id === id)} />
                    ))}
                  </tr>
                ))}
              </tbody>
            </table>
          </div>
        )}
      <h2>What the class confuses</h2>
      <ConfusionTable confusion={given.confusion} />
    </section>
  );
}

function SkillCell({ skill }: { skill: Skill | undefined }) {
  if (!skill || skill.plays === 0 || skill.recent_share === null) {
    return (
      <td>
        <span class="unseen">not met yet</span>
      </td>
    );
  }
  const isDue = skill.due_in_days !== null && skill.due_in_days <= 0;
  return (
    <td class={skill.is_mastered ? 'diagonal' : ''} style={{ '--share': skill.recent_share.toFixed(2) }}>
      {Math.round(100 * skill.recent_share)}
      {isDue && <span aria-hidden="true" class="due">·</span>}
      <span class="unseen">{skill.is_mastered ? ', firm' : ''}{isDue ? ', due' : ''}</span>
    </td>
  );
}
