// Runs on the audio thread: copies what arrives to the page in chunks, and counts. Nothing else.
// Plain JavaScript without imports, as this scope has hardly any of the usual functions.

const LEAST_CHUNK_FRAMES = 8192;

class Capture extends AudioWorkletProcessor {
  constructor() {
    super();
    this.channels = [];
    this.filled = 0;
    this.firstFrame = 0;
    this.alive = true;
    this.port.onmessage = () => {
      this.alive = false;
    };
  }

  process(inputs) {
    const input = inputs[0] ?? [];
    if (this.filled > 0 && input.length !== this.channels.length) this.send();
    if (input.length > 0) this.copy(input);
    return this.alive;
  }

  copy(input) {
    const frames = input[0].length;
    if (this.filled === 0) {
      this.firstFrame = currentFrame;
      const room = Math.ceil(LEAST_CHUNK_FRAMES / frames) * frames;
      this.channels = input.map(() => new Float32Array(room));
    }
    for (let c = 0; c < input.length; c++) this.channels[c].set(input[c], this.filled);
    this.filled += frames;
    if (this.filled >= this.channels[0].length) this.send();
  }

  send() {
    const channels = this.channels.map((samples) => (this.filled < samples.length ? samples.slice(0, this.filled) : samples));
    this.port.postMessage(
      { firstFrame: this.firstFrame, channels },
      channels.map((samples) => samples.buffer),
    );
    this.filled = 0;
  }
}

registerProcessor('capture', Capture);
