// Patients built on this device, as the text of their case files. One whose id is a code is looked for here first, then
// in the server's folder.
import { getText, postBytes, postText, putText, remove } from '../lib/api';
import { keep } from '../lib/settings';
import type { ReadDraft } from './draft';

export interface KeptPatient {
  id: string;
  title: string;
  text: string;
}
const kMost = 60;
export const kToml = 'application/toml';

export function keptPatients(): KeptPatient[] {
  try {
    const all = JSON.parse(localStorage.getItem('phren.patients') ?? '[]') as unknown;
    return Array.isArray(all)
      ? all.filter((one): one is KeptPatient => typeof one?.id === 'string' && typeof one?.text === 'string')
      : [];
  } catch {
    return [];
  }
}
export const keptPatient = (id: string): KeptPatient | undefined => keptPatients().find((one) => one.id === id);
// Throws, in words, where it is not kept: nothing that was typed is dropped without a word.
export function keepPatient(one: KeptPatient): void {
  const others = keptPatients().filter((other) => other.id !== one.id);
  if (others.length >= kMost) {
    throw new Error(`This device holds ${kMost} built patients, the most there may be: remove one, or save this one ` +
      'as a file.');
  }
  keep('patients', JSON.stringify([...others, one]));
  if (keptPatient(one.id)?.text !== one.text) {
    throw new Error('This device keeps nothing just now (a private window, or its storage is full): save the patient ' +
      'as a file.');
  }
}
export function dropPatient(id: string): void {
  keep('patients', JSON.stringify(keptPatients().filter((one) => one.id !== id)));
}

// Eight letters and digits that cannot be mistaken for one another: a code tells nothing.
const kLetters = 'abcdefghjkmnpqrstuvwxyz23456789';
export const newCode = (): string =>
  'own-' + [...crypto.getRandomValues(new Uint8Array(8))].map((byte) => kLetters[byte % kLetters.length]).join('');

export const readPatient = (text: string): Promise<ReadDraft> => postText<ReadDraft>('patients/read', kToml, text);
export const packetOfText = (text: string): Promise<ArrayBuffer> => postBytes('patients/config', kToml, text);
export const keepOnServer = (id: string, text: string): Promise<unknown> =>
  putText(`patients/${encodeURIComponent(id)}`, kToml, text);
export const textOnServer = (id: string): Promise<string> => getText(`patients/${encodeURIComponent(id)}`);
export const dropOnServer = (id: string): Promise<unknown> => remove(`patients/${encodeURIComponent(id)}`);
