import { type Aspect, aspectName, aspects } from './geometry';

export function AspectChoice({ aspect, onChange }: { aspect: Aspect; onChange: (aspect: Aspect) => void }) {
  return (
    <div class="aspects" role="group" aria-label="Side of the chest">
      {aspects.map((one) => (
        <button aria-pressed={one === aspect} onClick={() => onChange(one)}>
          {aspectName[one][0]!.toUpperCase() + aspectName[one].slice(1)}
        </button>
      ))}
    </div>
  );
}
