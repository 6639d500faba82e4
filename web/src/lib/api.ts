// What the server gives, and errors a person can act on.

export class Trouble extends Error {
  constructor(message: string, readonly isOffline: boolean = false) { super(message); }
}

async function answered(path: string, init?: RequestInit): Promise<Response> {
  let response: Response;
  try {
    response = await fetch('/api/v1/' + path, init);
  } catch {
    throw new Trouble('The server cannot be reached. What you have done so far is kept on this device; try again when the connection is back.', true);
  }
  if (response.ok) return response;
  let detail = `The server answered ${response.status}.`;
  try {
    detail = ((await response.json()) as { detail: string }).detail;
  } catch { /* not a problem document; the number must do */ }
  throw new Trouble(detail);
}

export async function getJson<T>(path: string): Promise<T> {
  return (await answered(path)).json() as Promise<T>;
}

export async function getBytes(path: string): Promise<ArrayBuffer> {
  return (await answered(path)).arrayBuffer();
}

export async function postJson<T>(path: string, body: unknown): Promise<T> {
  return (await answered(path, {
    method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify(body),
  })).json() as Promise<T>;
}

export async function postRecording<T>(path: string, body: Blob): Promise<T> {
  return (await answered(path, {
    method: 'POST', headers: { 'Content-Type': 'application/octet-stream' }, body,
  })).json() as Promise<T>;
}
