// An audio worklet: sound as it comes → blocks of a tenth of a second, 16 bits a sample.
// Takes what the browser hears, at the rate of its context; posts a buffer of 1,600 samples each time that many are there.
// Runs apart from the page, so that a busy page loses no sound.
const LENGTH = 1600;

class Blocks extends AudioWorkletProcessor {
  constructor() {
    super();
    this.block = new Int16Array(LENGTH);
    this.filled = 0;
  }

  process([input]) {
    for (const sample of input[0] ?? []) {
      this.block[this.filled] = Math.round(Math.max(-1, Math.min(1, sample)) * 32767);
      this.filled += 1;
      if (this.filled === LENGTH) {
        this.port.postMessage(this.block.buffer, [this.block.buffer]);
        this.block = new Int16Array(LENGTH);
        this.filled = 0;
      }
    }
    return true;
  }
}

registerProcessor('blocks', Blocks);
