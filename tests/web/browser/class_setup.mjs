// A class with learners, drill answers, a station and encounters, made through the JSON interface
// (docs/formats/class-api.md), so that every screen has something to show.

import { localCookie } from './harness.mjs';

// One visitor with a cookie of its own.
export class Visitor {
  constructor(address) { this.address = address; this.cookie = localCookie; this.csrf = ''; }
  async ask(method, path, body, type = 'application/json') {
    const answer = await fetch(`${this.address}/api/v1/${path}`, {
      method, headers: { ...(body === undefined ? {} : { 'Content-Type': type }), ...(this.cookie ? { Cookie: this.cookie } : {}), ...(this.csrf ? { 'X-Phren-CSRF': this.csrf } : {}) },
      body: body === undefined ? undefined : type === 'application/json' ? JSON.stringify(body) : body,
    });
    const set = answer.headers.get('set-cookie');
    if (set) this.cookie = set.split(';')[0];
    const text = await answer.text();
    if (!answer.ok && answer.status !== 202) throw new Error(`${method} ${path}: ${answer.status} ${text}`);
    return { status: answer.status, value: /[/+]json/.test(answer.headers.get('content-type') ?? '') ? JSON.parse(text) : text };
  }
  async get(path) { return (await this.ask('GET', path)).value; }
  async post(path, body) { return (await this.ask('POST', path, body)).value; }
  async enter() { this.csrf = (await this.get('session')).csrf; return this; }
  async join(code, key) { this.csrf = (await this.post('join', { code, key })).csrf; return this; }
}

const crew = ['Ailsa Brekke', 'Bo Tangen', 'Cato Fjelde', 'Dagny Holm', 'Eirik Sund', 'Freja Dahl'];
const rosterText = ['login,name,extra_time_percent', ...crew.map((name, i) => `${name.split(' ')[0].toLowerCase()},${name},${i === 2 ? 25 : 0}`)].join('\r\n') + '\r\n';

const checklistOf = (all, id) => all.checklists.find((one) => one.id === id);

// Deeds of a short encounter, k of them done: more is better.
function deeds(k) {
  const all = [
    { do: 'expose', part: 'all' }, { do: 'place', aspect: 'front', u: -0.6, v: 0.45 }, { do: 'place', aspect: 'front', u: 0.6, v: 0.45 },
    { do: 'report', finding: 'wheeze', presence: 'present', basis: 'heard' }, { do: 'measure', vital: 'spo2_percent' }, { do: 'measure', vital: 'heart_rate_per_min' },
    { do: 'measure', vital: 'respiratory_rate_per_min' }, { do: 'treat', treatment: 'inhaled_bronchodilator' }, { do: 'rank', conditions: ['asthma'] },
  ];
  return all.slice(0, k).map((one, i) => ({ id: `d${i}`, t: 0.5 + i, ...one }));
}

// `staff`: an instructor who is logged in; none: the local one.
export async function makeClass(address, staff) {
  staff ??= await new Visitor(address).enter();
  const room = await staff.post('classes', { title: 'Skerrow Sound, autumn crew' });
  await staff.ask('PUT', `classes/${room.id}/roster`, rosterText, 'text/csv');
  const checklist = checklistOf(await staff.get('checklists'), 'asthma_station');
  const plan = { title: 'Tight chest on the mussel raft', case_ids: ['asthma'], time_limit_s: 600, patients: 'identical', admission: 'roster', instructions: 'You are first on scene.',
    checklist: { ...checklist, items: [...checklist.items, { id: 'explains', text: 'Explains to the patient what is done', rule: 'examiner', points: 2 }] } };
  const station = await staff.post(`classes/${room.id}/stations`, plan);
  await staff.post(`stations/${station.id}/state`, { state: 'open' });
  const { members } = await staff.get(`classes/${room.id}`);
  return { staff, classId: room.id, station: await staff.get(`stations/${station.id}`), members, plan };
}

export async function takePart(address, made, member, k, isEnded = true) {
  const learner = await new Visitor(address).join(made.station.join_code, member.key);
  const encounter = await learner.post('encounters', { station_id: made.station.id });
  await learner.post(`encounters/${encounter.id}/actions`, { actions: deeds(k) });
  if (isEnded) await learner.post(`encounters/${encounter.id}/end`, { id: 'end', t: 9.6 });
  return { learner, encounter };
}

export async function practise(learner, mode, plays) {
  for (let i = 0; i < plays; i++) {
    const item = await learner.post('drill/next', { mode });
    await learner.post('drill/answers', { item_id: item.item_id, answered: item.choices[(i * 5 + 1) % item.choices.length].id, seconds: 3 });
  }
}

// Answers an ability test, one choice after another, until it ends or `most` are answered.
export async function takeAbilityTest(learner, most) {
  let test = await learner.post('ability-tests', {});
  for (let i = 0; i < most && test.item; i++) test = await learner.post(`ability-tests/${test.id}/answers`, { item_id: test.item.item_id, answered: test.item.choices[(i * 3 + 1) % test.item.choices.length].id });
  return test;
}
