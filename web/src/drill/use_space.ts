// The space bar plays, unless it is meant for a control that has the focus.
import { useEffect } from 'preact/hooks';

export function useSpace(action: () => void): void {
  useEffect(() => {
    const onKey = (event: KeyboardEvent) => {
      if (event.key !== ' ' || event.target !== document.body) return;
      event.preventDefault();
      action();
    };
    addEventListener('keydown', onKey);
    return () => removeEventListener('keydown', onKey);
  });
}
