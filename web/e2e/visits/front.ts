/**
 * Stands between a browser and the program, and can pass its app off as another version: in the page, in the service worker
 * and in every answer. To a browser that is a program that was updated; jobs, edits and the live channel are the program's own.
 */
import { createServer, request, type IncomingMessage, type ServerResponse } from 'node:http';
import { connect, type AddressInfo, type Socket } from 'node:net';

export const HEADER = 'x-loamline-app';

export class Front {
  #server = createServer((ask, answer) => this.#pass(ask, answer));
  #open = new Set<Socket>();
  #to: URL;
  base = '';
  /** What the program's app calls itself. */
  own = '';
  /** What it is passed off as; of the same length as its own name, so that no count of bytes changes. */
  as: string | null = null;
  /** What answers say instead, where they and the app are to differ. */
  says: string | null = null;
  /** Addresses that lead nowhere any more. */
  gone: RegExp | null = null;
  /** What was asked for, in order. */
  asked: string[] = [];

  constructor(program: string) {
    this.#to = new URL(program);
  }

  async start() {
    this.own = (await fetch(this.#to)).headers.get(HEADER) ?? '';
    if (!this.own) throw new Error('the program does not say which app is inside');
    this.#server.on('upgrade', (ask, socket, head) => this.#channel(ask, socket as Socket, head));
    this.#server.on('connection', (socket) => {
      this.#open.add(socket);
      socket.on('close', () => this.#open.delete(socket));
    });
    await new Promise<void>((done) => this.#server.listen(0, '127.0.0.1', done));
    this.base = `http://127.0.0.1:${(this.#server.address() as AddressInfo).port}`;
  }

  /** A name of a version that is none. */
  another = (letter: string) => letter.repeat(this.own.length);

  /** Ends every connection, as a program does that stops; the next one is answered again. */
  cut() {
    for (const socket of this.#open) socket.destroy();
  }

  async stop() {
    this.cut();
    await new Promise((done) => this.#server.close(done));
  }

  /** What the program is told that the browser told this: it goes by its own address. */
  #told = (value: string) => value.replaceAll(new URL(this.base).host, this.#to.host);

  #pass(ask: IncomingMessage, answer: ServerResponse) {
    const path = ask.url ?? '/';
    this.asked.push(`${ask.method} ${path}`);
    if (this.gone?.test(path)) {
      answer.writeHead(404).end();
      return;
    }
    const named = ['/', '/index.html', '/sw.js'].includes(path);
    const headers = Object.fromEntries(
      Object.entries(ask.headers).map(([k, v]) => [k, typeof v === 'string' ? this.#told(v) : v]),
    );
    if (named) {
      // As it stands, and all of it.
      delete headers['accept-encoding'];
      delete headers['if-none-match'];
    }
    const { hostname, port } = this.#to;
    const there = request({ hostname, port, path, method: ask.method, headers }, (from) => {
      const told = { ...from.headers, [HEADER]: this.says ?? this.as ?? this.own };
      if (!named) {
        answer.writeHead(from.statusCode!, told);
        from.pipe(answer);
        return;
      }
      const parts: Buffer[] = [];
      from.on('data', (part: Buffer) => parts.push(part));
      from.on('end', () => {
        delete told.etag;
        answer.writeHead(from.statusCode!, told);
        answer.end(
          Buffer.concat(parts)
            .toString()
            .replaceAll(this.own, this.as ?? this.own),
        );
      });
    });
    there.on('error', () => answer.destroy());
    ask.pipe(there);
  }

  /** The live channel, byte by byte, but for the name of the app in its first message. */
  #channel(ask: IncomingMessage, socket: Socket, head: Buffer) {
    const there = connect(Number(this.#to.port), this.#to.hostname, () => {
      const lines = [`${ask.method} ${ask.url} HTTP/1.1`];
      for (let i = 0; i < ask.rawHeaders.length; i += 2)
        lines.push(`${ask.rawHeaders[i]}: ${this.#told(ask.rawHeaders[i + 1]!)}`);
      there.write(`${lines.join('\r\n')}\r\n\r\n`);
      there.write(head);
      socket.pipe(there);
    });
    there.on('data', (bytes: Buffer) => {
      const said = this.says ?? this.as ?? this.own;
      socket.write(Buffer.from(bytes.toString('latin1').replaceAll(this.own, said), 'latin1'));
    });
    for (const [end, other] of [
      [socket, there],
      [there, socket],
    ] as const) {
      end.on('close', () => other.destroy());
      end.on('error', () => other.destroy());
    }
  }
}
