// What the server gives, and errors a person can act on.
import { save } from './save';

export class Trouble extends Error {
  constructor(message: string, readonly isOffline: boolean = false, readonly status: number = 0,
    readonly title: string = '')
  {
    super(message);
  }
  // The same request would be refused again; not so after logging in, waiting, or when the line is back.
  get isFinal(): boolean {
    return this.status >= 400 && this.status < 500 && ![401, 408, 429].includes(this.status);
  }
}

// Proof that a change comes from these pages; the server gives it with the session (lib/session.ts).
let proof = '';
export function useProof(token: string): void {
  proof = token;
}
let onLoggedOut = () => {/* until a session is watched */};
export function whenLoggedOut(action: () => void): void {
  onLoggedOut = action;
}

async function answered(path: string, init?: RequestInit): Promise<Response> {
  let response: Response;
  try {
    response = await fetch('/api/v1/' + path, init);
  } catch {
    throw new Trouble('The server cannot be reached. Try again when the connection is back.', true);
  }
  if (response.ok) return response;
  let detail = `The server answered ${response.status}.`, title = '';
  try {
    ({ detail, title } = (await response.json()) as { detail: string; title: string });
  } catch { /* not a problem document; the number must do */ }
  if (response.status === 401 && !path.startsWith('session') && !path.startsWith('join')) onLoggedOut();
  throw new Trouble(detail, false, response.status, title);
}

function change(method: string, type: string, body: BodyInit | null): RequestInit {
  return { method, headers: { ...(type ? { 'Content-Type': type } : {}), ...(proof ? { 'X-Phren-CSRF': proof } : {}) },
    body };
}

export async function getJson<T>(path: string): Promise<T> {
  return (await answered(path)).json() as Promise<T>;
}
// Null while the server is still working on it.
export async function getReady<T>(path: string): Promise<T | null> {
  const response = await answered(path);
  return response.status === 202 ? null : response.json() as Promise<T>;
}
export async function getText(path: string): Promise<string> {
  return (await answered(path)).text();
}
export async function getBytes(path: string): Promise<ArrayBuffer> {
  return (await answered(path)).arrayBuffer();
}

export async function postJson<T>(path: string, body: unknown): Promise<T> {
  return (await answered(path, change('POST', 'application/json', JSON.stringify(body)))).json() as Promise<T>;
}
export async function putJson<T>(path: string, body: unknown): Promise<T> {
  return (await answered(path, change('PUT', 'application/json', JSON.stringify(body)))).json() as Promise<T>;
}
export async function putText<T>(path: string, type: string, body: string): Promise<T> {
  return (await answered(path, change('PUT', type, body))).json() as Promise<T>;
}
export async function postText<T>(path: string, type: string, body: string): Promise<T> {
  return (await answered(path, change('POST', type, body))).json() as Promise<T>;
}
export async function postBytes(path: string, type: string, body: string): Promise<ArrayBuffer> {
  return (await answered(path, change('POST', type, body))).arrayBuffer();
}
export async function remove<T>(path: string): Promise<T> {
  return (await answered(path, change('DELETE', '', null))).json() as Promise<T>;
}

// A file of the server's, under its own name; errors come as words, not as a broken download.
export async function download(path: string, name: string): Promise<void> {
  const response = await answered(path);
  const said = /filename="([^"]+)"/.exec(response.headers.get('Content-Disposition') ?? '')?.[1];
  save(said ?? name, await response.blob());
}
