// The line between a page and its round: one WebSocket, opened again as often as it takes.
import { type FromServer, kRoundPage, type ToServer } from './types';

const kFirstPause_ms = 300, kLongestPause_ms = 5000;

export class Line {
  private socket: WebSocket | null = null;
  private pauseMs = kFirstPause_ms;
  private timer: ReturnType<typeof setTimeout> | undefined;
  private isClosed = false;

  // `hello`: what is said first, each time; `have` is the number of the last shared line that came.
  constructor(private readonly hello: () => { token: string; have: number },
    private readonly hear: (message: FromServer) => void, private readonly onState: (isUp: boolean) => void)
  {
    this.open();
    addEventListener('online', this.hurry);
    document.addEventListener('visibilitychange', this.hurry);
  }
  close(): void {
    this.isClosed = true;
    removeEventListener('online', this.hurry);
    document.removeEventListener('visibilitychange', this.hurry);
    clearTimeout(this.timer);
    this.socket?.close();
  }
  // False while the line is down: the message is not sent.
  send(message: ToServer): boolean {
    if (this.socket?.readyState !== WebSocket.OPEN) return false;
    this.socket.send(JSON.stringify(message));
    return true;
  }

  private readonly hurry = () => {
    if (document.visibilityState === 'hidden' || this.socket || this.isClosed) return;
    this.pauseMs = kFirstPause_ms;
    this.open();
  };
  private open(): void {
    clearTimeout(this.timer);
    const socket = new WebSocket(location.origin.replace(/^http/, 'ws') + '/api/v1/rounds/live');
    this.socket = socket;
    socket.onopen = () => {
      this.send({ hello: { ...this.hello(), page: kRoundPage } });
    };
    socket.onmessage = ({ data }) => {
      const message = JSON.parse(data as string) as FromServer;
      if ('welcome' in message) {
        this.pauseMs = kFirstPause_ms;
        this.onState(true);
      }
      this.hear(message);
    };
    socket.onclose = () => {
      if (this.socket !== socket) return;
      this.socket = null;
      if (this.isClosed) return;
      this.onState(false);
      this.timer = setTimeout(() => this.open(), this.pauseMs);
      this.pauseMs = Math.min(kLongestPause_ms, this.pauseMs * 2);
    };
  }
}
