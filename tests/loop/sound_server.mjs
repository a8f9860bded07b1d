// A sound server of our own: what the page plays goes into one sink, what it hears comes from the other.
//
//   page -> sink page_out -> (a program) -> sink bench_out -> source page_in -> page
//
// It lives in its own runtime folder and listens on its own socket, so it neither sees nor disturbs any other.
import { spawn, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync, mkdirSync, existsSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';

const START_LIMIT_MS = 8000;
const FORMAT = ['--format=float32le', '--rate=48000', '--channels=2'];
// The ear hands on small pieces, the mouth keeps a store: a busy machine may let a program sleep for that long.
const EAR_MS = 20;
const STORE_MS = 250;

/** Audio programs run ahead of all others where this machine allows it, as they do on a real one. */
const AHEAD = spawnSync('chrt', ['-r', '5', 'true']).status === 0 ? ['chrt', '-r', '5'] : [];

/** Starts the server; answers `{environment, pipe, playInto, hear, close}`. */
export async function soundServer() {
  const home = mkdtempSync(join(tmpdir(), 'loop-'));
  const socket = join(home, 'native');
  const environment = {
    ...process.env,
    HOME: home,
    XDG_RUNTIME_DIR: home,
    XDG_CONFIG_HOME: join(home, 'config'),
    PULSE_RUNTIME_PATH: home,
    PULSE_SERVER: `unix:${socket}`,
  };
  mkdirSync(join(home, 'config', 'pulse'), { recursive: true });
  // With the server's own default of 44.1 kHz and 16 bit the browser resamples both ways.
  writeFileSync(
    join(home, 'config', 'pulse', 'daemon.conf'),
    'default-sample-rate = 48000\nalternate-sample-rate = 48000\ndefault-sample-format = float32le\navoid-resampling = yes\nexit-idle-time = -1\nflat-volumes = no\n',
  );
  const sink = (name) => `load-module module-null-sink sink_name=${name} format=float32le rate=48000 channels=2 channel_map=front-left,front-right`;
  const script = [
    `load-module module-native-protocol-unix socket=${socket} auth-anonymous=1`,
    sink('page_out'),
    sink('bench_out'),
    // Browsers hide the monitor of a sink; a source made from it they show.
    'load-module module-remap-source source_name=page_in master=bench_out.monitor remix=no',
    'set-default-sink page_out',
    'set-default-source page_in',
  ].join('\n');
  writeFileSync(join(home, 'start.pa'), script + '\n');
  const children = [];
  const start = (command, args, stdio) => {
    const [first, ...rest] = [...AHEAD, command, ...args];
    const child = spawn(first, rest, { env: environment, stdio });
    children.push(child);
    child.on('error', () => undefined);
    return child;
  };
  start('pulseaudio', ['-n', '-F', join(home, 'start.pa'), '--daemonize=no', '--use-pid-file=no', '--log-target=stderr', '--log-level=error'], 'ignore');
  for (const begin = Date.now(); !existsSync(socket); await wait(50)) {
    if (Date.now() - begin > START_LIMIT_MS) throw new Error('the sound server did not start');
  }
  await wait(300);

  /** Runs `program` between the page's output and its input until `.stop()`. */
  const pipe = async (program, args) => {
    const ear = start('parec', ['--device=page_out.monitor', ...FORMAT, `--latency-msec=${EAR_MS}`, '--raw'], ['ignore', 'pipe', 'inherit']);
    const middle = start(program, args, ['pipe', 'pipe', 'inherit']);
    const mouth = start('pacat', ['--playback', '--device=bench_out', ...FORMAT, `--latency-msec=${STORE_MS}`, '--raw'], ['pipe', 'ignore', 'inherit']);
    ear.stdout.pipe(middle.stdin);
    middle.stdout.pipe(mouth.stdin);
    for (const stream of [middle.stdin, mouth.stdin]) stream.on('error', () => undefined);
    await wait(700);
    const stop = () => [ear, middle, mouth].forEach((child) => child.kill());
    return { stop, alive: () => [ear, middle, mouth].every((child) => child.exitCode === null) };
  };

  /** Feeds raw stereo samples that `program` writes into the page's input; resolves when they have been played. */
  const playInto = (program, args) => {
    const mouth = start('pacat', ['--playback', '--device=bench_out', ...FORMAT, `--latency-msec=${STORE_MS}`, '--raw'], ['pipe', 'ignore', 'inherit']);
    const player = start(program, args, ['ignore', 'pipe', 'inherit']);
    mouth.stdin.on('error', () => undefined);
    player.stdout.pipe(mouth.stdin);
    return new Promise((done) => mouth.on('exit', done));
  };

  /** What the bench gives out for so long: both channels. */
  const hear = (seconds) => {
    const ear = start('parec', ['--device=bench_out.monitor', ...FORMAT, `--latency-msec=${EAR_MS}`, '--raw'], ['ignore', 'pipe', 'inherit']);
    const wanted = Math.round(seconds * 48_000) * 8;
    return new Promise((done, failed) => {
      let bytes = Buffer.alloc(0);
      ear.on('exit', () => failed(new Error('nothing was heard of the bench')));
      ear.stdout.on('data', (more) => {
        bytes = Buffer.concat([bytes, more]);
        if (bytes.length < wanted) return;
        done([0, 4].map((at) => Array.from({ length: wanted / 8 }, (_, i) => bytes.readFloatLE(8 * i + at))));
        ear.kill();
      });
    });
  };

  const close = async () => {
    for (const child of children.reverse()) if (child.exitCode === null) child.kill();
    await wait(200);
    for (const child of children) if (child.exitCode === null && child.signalCode === null) child.kill('SIGKILL');
    rmSync(home, { recursive: true, force: true });
  };
  return { environment, pipe, playInto, hear, close };
}
