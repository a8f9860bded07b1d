#!/usr/bin/env node
// One check on recorded takes, without a browser: `node pkg-scripts/analyse.mjs SETUP.json [--out RESULT.json]`.
// Exit 0: a reading, doubtful ones included. 2: refused. 1: the setup or a file could not be used (see stderr).
import { readFileSync, writeFileSync } from 'node:fs';
import { dirname, resolve } from 'node:path';
import { loadCore } from './core.mjs';

/** A message for the person; anything else that is thrown is a fault of ours. */
class Unusable extends Error {}

function usage() {
  return new Unusable('usage: node pkg-scripts/analyse.mjs SETUP.json [--out RESULT.json]');
}

function readArguments(given) {
  const files = [];
  let out;
  for (let i = 0; i < given.length; i++) {
    if (given[i] === '--out') out = given[++i] ?? fail(usage());
    else if (given[i].startsWith('--')) fail(usage());
    else files.push(given[i]);
  }
  if (files.length !== 1) fail(usage());
  return { setup: files[0], out };
}

function fail(error) {
  throw error;
}

function read(file, what) {
  try {
    return readFileSync(file);
  } catch (error) {
    const why = error.code === 'ENOENT' ? 'there is no such file' : error.message;
    throw new Unusable(`${what}: ${file}: ${why}`);
  }
}

/** Calls the core; a fault becomes a message that begins with what it is about. */
function ask(about, call) {
  try {
    return call();
  } catch (fault) {
    if (typeof fault?.kind !== 'string') throw fault;
    throw new Unusable(`${about}: ${fault.message}`);
  }
}

function analyse(setupFile) {
  const core = loadCore();
  const setup = read(setupFile, 'setup').toString('utf8').replace(/^\uFEFF/, '');
  const entries = ask(setupFile, () => core.setup_takes(setup));
  const takes = entries.map(({ file }, i) => {
    const field = `takes[${i}].file`;
    if (file === null || file === '') throw new Unusable(`${setupFile}: ${field}: the path of a WAV file is wanted`);
    const path = resolve(dirname(setupFile), file);
    return ask(`${field}: ${path}`, () => core.read_wav(new Uint8Array(read(path, field))).take);
  });
  return ask(setupFile, () => core.analyse(setup, takes));
}

/** Curves are typed arrays; JSON wants lists. */
function toText(reading) {
  return JSON.stringify(reading, (_, value) => (ArrayBuffer.isView(value) ? Array.from(value) : value), 2) + '\n';
}

function write(text, out) {
  if (out === undefined) {
    process.stdout.write(text);
    return;
  }
  try {
    writeFileSync(out, text);
  } catch (error) {
    throw new Unusable(`--out: ${out}: ${error.message}`);
  }
}

try {
  const { setup, out } = readArguments(process.argv.slice(2));
  const reading = analyse(setup);
  write(toText(reading), out);
  process.exitCode = reading.outcome === 'refused' ? 2 : 0;
} catch (error) {
  const panic = globalThis.conewrightPanic;
  if (panic) console.error(`the measuring core has failed, which is a fault in it: ${panic}`);
  else console.error(error instanceof Unusable || error.message?.includes('pkg-scripts/build') ? error.message : error);
  process.exitCode = 1;
}
