// Who this device is in which round, so that a reload comes back as the same one.
import type { CameIn, RoundRole } from './types';

const key = (id: string, role: RoundRole) => `phren.round.${role}.${id}`;

export function keepToken({ round, person, token }: CameIn): void {
  try {
    sessionStorage.setItem(key(round.id, person.role), token);
    sessionStorage.setItem(key(round.code, person.role), token);
  } catch { /* private windows: a reload comes in as somebody new */ }
}
export function tokenFor(idOrCode: string, role: RoundRole): string {
  try {
    return sessionStorage.getItem(key(idOrCode, role)) ?? '';
  } catch {
    return '';
  }
}
export function forgetToken(idOrCode: string, role: RoundRole): void {
  try {
    sessionStorage.removeItem(key(idOrCode, role));
  } catch { /* nothing was kept */ }
}
