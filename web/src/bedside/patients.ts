// Where a patient comes from: the server, or what this device has kept of it.
import { getBytes, getJson } from '../lib/api';
import type { Case } from './types';

export const loadCase = (id: string): Promise<Case> => getJson<Case>(`cases/${encodeURIComponent(id)}`);
export const loadConfig = (id: string): Promise<ArrayBuffer> => getBytes(`cases/${encodeURIComponent(id)}/config`);
