import { newId } from '../lib/new_id';
import type { Measurement } from './measurement';

export interface TruthSpan {
  sound: string;
  startS: number;
  endS: number;
  pitchHz: number;
}

// A recording on the shelf: decoded samples for eye and ear, and the original bytes for measuring.

export interface Recording {
  id: string;
  name: string;
  addedAt: string; // ISO time
  rateHz: number;
  samples: Float32Array; // one channel, +-1
  original: Blob; // as opened or recorded; what is sent to be measured
  siteId: string; // where it was taken; empty when not yet placed
  measurement?: Measurement;
  truth?: TruthSpan[]; // synthetic sounds carry their key
  source: string; // in words: "file x.flac", "microphone", "cut from ..."
}

export const kMaxFile_bytes = 64 * 1024 * 1024; // as the server takes (app/server/api/routes.h)

// The rate a WAV or FLAC file says it has; decoding at that rate avoids resampling for the eye.
export function rateInHeader(bytes: ArrayBuffer): number | null {
  const view = new DataView(bytes);
  const tag = (at: number) => String.fromCharCode(...new Uint8Array(bytes, at, 4));
  if (bytes.byteLength > 44 && tag(0) === 'fLaC') return (view.getUint32(18) >>> 12) || null;
  if (bytes.byteLength > 44 && tag(0) === 'RIFF' && tag(8) === 'WAVE') {
    for (let at = 12; at + 16 < Math.min(bytes.byteLength, 4096);) {
      if (tag(at) === 'fmt ') return view.getUint32(at + 12, true);
      at += 8 + view.getUint32(at + 4, true);
    }
  }
  return null;
}

const kLongest_s = 20 * 60;

// Seconds that a FLAC header promises: a small file can hold hours of silence (RFC 9639, STREAMINFO).
export function flacSeconds(bytes: ArrayBuffer): number | null {
  const view = new DataView(bytes);
  if (bytes.byteLength < 26 || view.getUint32(0) !== 0x664c6143) return null;
  const rate = view.getUint32(18) >>> 12;
  const samples = (view.getUint8(21) & 15) * 2 ** 32 + view.getUint32(22);
  return rate > 0 && samples > 0 ? samples / rate : null;
}

export async function decode(file: Blob, name: string): Promise<Recording> {
  if (file.size > kMaxFile_bytes) {
    throw new Error(
      `${name} is ${Math.round(file.size / 1048576)} MB; at most 64 MB can be opened. Cut it into parts first.`,
    );
  }
  if (file.size === 0) throw new Error(`${name} is empty.`);
  const bytes = await file.arrayBuffer();
  const promised_s = flacSeconds(bytes) ?? 0;
  if (promised_s > kLongest_s) {
    throw new Error(
      `${name} lasts ${Math.round(promised_s / 60)} minutes; the Bench opens at most ${
        kLongest_s / 60
      }. Cut it into parts first, or let “phren measure” read the whole file.`,
    );
  }
  const rate = Math.min(96000, Math.max(8000, rateInHeader(bytes) ?? 48000));
  let buffer: AudioBuffer;
  try {
    buffer = await new OfflineAudioContext(1, 1, rate).decodeAudioData(bytes);
  } catch {
    throw new Error(
      `${name} is not a sound file this browser can read, or it is damaged. WAV and FLAC are sure to work.`,
    );
  }
  return {
    id: newId(),
    name,
    addedAt: new Date().toISOString(),
    rateHz: rate,
    samples: mixed(buffer),
    original: file,
    siteId: '',
    source: `file ${name}`,
  };
}

function mixed(buffer: AudioBuffer): Float32Array {
  const out = new Float32Array(buffer.length);
  for (let c = 0; c < buffer.numberOfChannels; c++) {
    const channel = buffer.getChannelData(c);
    for (let i = 0; i < out.length; i++) out[i]! += channel[i]! / buffer.numberOfChannels;
  }
  return out;
}

// 24-bit WAV, so that nothing is lost on the way to the server or to a file.
export function toWav(samples: Float32Array, rateHz: number): Blob {
  const bytes = new ArrayBuffer(44 + samples.length * 3);
  const view = new DataView(bytes);
  const text = (at: number, words: string) => {
    for (let i = 0; i < words.length; i++) view.setUint8(at + i, words.charCodeAt(i));
  };
  text(0, 'RIFF');
  view.setUint32(4, bytes.byteLength - 8, true);
  text(8, 'WAVEfmt ');
  view.setUint32(16, 16, true);
  view.setUint16(20, 1, true);
  view.setUint16(22, 1, true);
  view.setUint32(24, rateHz, true);
  view.setUint32(28, rateHz * 3, true);
  view.setUint16(32, 3, true);
  view.setUint16(34, 24, true);
  text(36, 'data');
  view.setUint32(40, samples.length * 3, true);
  for (let i = 0; i < samples.length; i++) {
    const value = Math.round(Math.max(-1, Math.min(1, samples[i]!)) * 0x7fffff);
    view.setUint16(44 + i * 3, value & 0xffff, true);
    view.setInt8(46 + i * 3, value >> 16);
  }
  return new Blob([bytes], { type: 'audio/wav' });
}

export function cut(whole: Recording, fromS: number, toS: number): Recording {
  const samples = whole.samples.slice(Math.round(fromS * whole.rateHz), Math.round(toS * whole.rateHz));
  const { measurement: _ofTheWhole, truth, ...rest } = whole;
  const kept = (truth ?? []).filter((one) => one.endS > fromS && one.startS < toS)
    .map((one) => ({ ...one, startS: Math.max(0, one.startS - fromS), endS: Math.min(toS, one.endS) - fromS }));
  return {
    ...rest,
    id: newId(),
    name: `${whole.name} ${fromS.toFixed(1)}-${toS.toFixed(1)} s`,
    addedAt: new Date().toISOString(),
    samples,
    original: toWav(samples, whole.rateHz),
    source: `cut from ${whole.name}`,
    ...(truth ? { truth: kept } : {}),
  };
}

export function rms(samples: Float32Array): number {
  let sum = 0;
  for (const value of samples) sum += value * value;
  return Math.sqrt(sum / Math.max(1, samples.length));
}
export const lengthS = (recording: Recording): number => recording.samples.length / recording.rateHz;
