// A case made of recordings, as this device keeps it and as one file (docs/formats/recorded-case.md).
import { decode, toWav } from '../bench/recording';
import { newId } from '../lib/new_id';

export interface CaseRecording {
  siteId: string;
  rateHz: number;
  samples: Float32Array; // one channel, +-1
  findings: string[]; // what is there to hear, as whoever made the case says
}
export interface KeptRecordedCase {
  id: string;
  title: string;
  story: string;
  ageYears: number;
  sex: 'female' | 'male';
  madeAt: string;
  recordings: CaseRecording[];
}

const kMost = 24; // places
const kLongest_s = 120;
const kFindingId = /^[a-z0-9_]{1,64}$/;

async function base64(blob: Blob): Promise<string> {
  const bytes = new Uint8Array(await blob.arrayBuffer());
  let text = '';
  for (let at = 0; at < bytes.length; at += 32768) text += String.fromCharCode(...bytes.subarray(at, at + 32768));
  return btoa(text);
}

// Samples only: whatever text the opened files carried (names, dates, devices) stays behind.
export async function toFile(one: KeptRecordedCase): Promise<Blob> {
  const recordings = await Promise.all(one.recordings.map(async (part) => ({
    site: part.siteId,
    findings: part.findings,
    wav: await base64(toWav(part.samples, part.rateHz)),
  })));
  return new Blob([JSON.stringify({
    phren: 'recorded case',
    version: 1,
    title: one.title,
    story: one.story,
    age_years: one.ageYears,
    sex: one.sex,
    consent: 'The maker confirmed that the people recorded agree to teaching use and cannot be recognised.',
    recordings,
  })], { type: 'application/json' });
}

export const isCaseFile = (file: File): boolean => /\.json$/i.test(file.name) || file.type === 'application/json';

// Errors say what is wrong and where.
export async function fromFile(file: File): Promise<KeptRecordedCase> {
  const wrong = (what: string) => new Error(`${file.name} is not a case of recordings: ${what}.`);
  let json: Record<string, unknown>;
  try {
    json = JSON.parse(await file.text()) as Record<string, unknown>;
  } catch {
    throw wrong('it is not JSON, or it was cut short');
  }
  if (json === null || typeof json !== 'object' || json['phren'] !== 'recorded case') {
    throw wrong('it does not begin with "phren": "recorded case"');
  }
  if (json['version'] !== 1) throw wrong(`its version is ${String(json['version'])}; this page reads version 1`);
  const list = json['recordings'];
  if (!Array.isArray(list) || list.length === 0 || list.length > kMost) {
    throw wrong(`it must hold 1 to ${kMost} recordings`);
  }
  const text = (key: string, most: number) => {
    const value = json[key];
    if (typeof value !== 'string' || value.length > most) {
      throw wrong(`${key} must be text of at most ${most} characters`);
    }
    return value;
  };
  const age = Number(json['age_years']);
  if (!(age >= 0 && age <= 110)) {
    throw wrong(`age_years is ${String(json['age_years'])}; it must lie between 0 and 110`);
  }
  const recordings = await Promise.all(list.map(async (part: Record<string, unknown>, i): Promise<CaseRecording> => {
    const at = `recording ${i + 1}`;
    if (typeof part['site'] !== 'string' || !/^[A-Z][0-9]{1,2}$/.test(part['site'])) throw wrong(`${at} names no site`);
    const findings = part['findings'];
    if (!Array.isArray(findings) || !findings.every((id) => typeof id === 'string' && kFindingId.test(id))) {
      throw wrong(`${at}: findings must be a list of finding ids`);
    }
    let bytes: Uint8Array;
    try {
      bytes = Uint8Array.from(atob(String(part['wav'])), (c) => c.charCodeAt(0));
    } catch {
      throw wrong(`${at}: its sound is not base64`);
    }
    const sound = await decode(new Blob([bytes as unknown as BlobPart]), `${at} of ${file.name}`);
    if (sound.samples.length > kLongest_s * sound.rateHz) throw wrong(`${at} is longer than ${kLongest_s} s`);
    return { siteId: part['site'], rateHz: sound.rateHz, samples: sound.samples, findings: findings as string[] };
  }));
  return { id: newId(), title: text('title', 200) || 'A patient', story: text('story', 4000), ageYears: age,
    sex: json['sex'] === 'male' ? 'male' : 'female', madeAt: new Date().toISOString(), recordings };
}
