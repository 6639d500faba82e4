// Who is using these pages: asked of the server once, and again after a login or when it has expired.
import { signal } from '@preact/signals';
import { getJson, postJson, remove, useProof, whenLoggedOut } from './api';

export type Role = 'instructor' | 'examiner' | 'learner';
export interface Session {
  person: { id: string; name: string; role: Role } | null;
  csrf: string;
  login_needed: boolean;
  is_local: boolean;
  has_accounts: boolean;
  station_id: string;
  class_id: string;
}

export const session = signal<Session | null>(null); // null: not asked yet, or not to be had
export const sessionTrouble = signal('');
export const isUnderWay = signal(false); // at a station, begun and not all of it stored

function take(given: Session): Session {
  useProof(given.csrf);
  session.value = given;
  sessionTrouble.value = '';
  return given;
}

let asking: Promise<Session | null> | null = null;
export function loadSession(): Promise<Session | null> {
  asking ??= getJson<Session>('session').then(take, (error: Error) => {
    sessionTrouble.value = error.message;
    return null;
  }).finally(() => {
    asking = null;
  });
  return asking;
}
whenLoggedOut(() => {
  void loadSession();
});

export const logIn = async (login: string, password: string): Promise<Session> =>
  take(await postJson<Session>('session', { login, password }));
export const logOut = async (): Promise<Session> => take(await remove<Session>('session'));
export const join = async (code: string, who: { key: string } | { name: string }): Promise<Session> =>
  take(await postJson<Session>('join', { code, ...who }));
export const changePassword = async (old: string, fresh: string): Promise<Session> =>
  take(await postJson<Session>('session/password', { old, new: fresh }));

export const isJoined = (): boolean => (session.value?.station_id ?? '') !== '';
