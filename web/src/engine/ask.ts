// What a page asks of the bedside's module beside the patient that sounds: an instance of its own, without a
// patient, answers at once. Until it is loaded the answer is null.
import { signal } from '@preact/signals';
import type { Questions } from '../generated/bedside';
import { fetchModule } from './engine';
import { BedsideModule, type PlacedSite } from './module';

const loaded = signal<BedsideModule | null>(null);
let loading: Promise<void> | null = null;

export function loadAnswers(sites: readonly PlacedSite[]): Promise<void> {
  loading ??= fetchModule().then(BedsideModule.load).then((module) => {
    module.setSites(sites);
    loaded.value = module;
  }).catch((error: Error) => {
    loading = null;
    throw error;
  });
  return loading;
}

export function ask<K extends keyof Questions>(what: K, needs: Questions[K]['needs']): Questions[K]['answer'] | null {
  return loaded.value?.ask(what, needs) ?? null;
}
