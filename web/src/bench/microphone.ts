// Recording from the microphone, untouched: no echo, noise or gain processing by the browser.
import { open } from '../audio/output';
import { newId } from '../lib/new_id';
import { type Recording, toWav } from './recording';
import takerUrl from './taker?worker&url';

const kMax_s = 120;

let addingModule: Promise<void> | null = null;

export interface Taking {
  stop(): Promise<Recording>;
  seconds(): number;
}

export async function startTaking(): Promise<Taking> {
  if (!navigator.mediaDevices) {
    throw new Error(
      'This browser gives the microphone only to pages of this computer or over HTTPS. Open Phren at ' +
        'http://localhost, or record with another program and open the file.',
    );
  }
  const { context } = open();
  addingModule ??= context.audioWorklet.addModule(takerUrl).catch(() => {
    addingModule = null;
    throw new Error(
      'The recorder could not be loaded: the server cannot be reached. Try again when the connection is back.',
    );
  });
  await addingModule;
  let stream: MediaStream;
  try {
    stream = await navigator.mediaDevices.getUserMedia({
      audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 },
    });
  } catch (error) {
    const denied = (error as DOMException).name === 'NotAllowedError';
    throw new Error(denied
      ? 'The microphone was not allowed. Allow it for this page in the browser (the symbol beside the ' +
        'address), then press Record again.'
      : 'No microphone was found. Connect one, or open a sound file instead.');
  }
  const source = context.createMediaStreamSource(stream);
  const tap = new AudioWorkletNode(context, 'phren-taker', { numberOfInputs: 1, numberOfOutputs: 1, channelCount: 1,
    channelCountMode: 'explicit' });
  const blocks: Float32Array[] = [];
  let frames = 0;
  tap.port.onmessage = ({ data: block }: MessageEvent<Float32Array>) => {
    if (frames >= kMax_s * context.sampleRate) return;
    blocks.push(block);
    frames += block.length;
  };
  const mute = context.createGain();
  mute.gain.value = 0;
  source.connect(tap).connect(mute).connect(context.destination);
  return {
    seconds: () => frames / context.sampleRate,
    stop: async () => {
      tap.port.postMessage('stop');
      source.disconnect();
      tap.disconnect();
      mute.disconnect();
      for (const track of stream.getTracks()) track.stop();
      const samples = new Float32Array(frames);
      let at = 0;
      for (const block of blocks) {
        samples.set(block, at);
        at += block.length;
      }
      if (frames === 0) {
        throw new Error('Nothing was recorded: the microphone gave no sound. Check that it is not muted.');
      }
      const addedAt = new Date().toISOString();
      return {
        id: newId(),
        name: `Recording ${addedAt.slice(0, 16).replace('T', ' ')}`,
        addedAt,
        rateHz: context.sampleRate,
        samples,
        original: toWav(samples, context.sampleRate),
        siteId: '',
        source: 'microphone',
      };
    },
  };
}
