// Sending a form once: busy meanwhile, and what went wrong in words.
import { useState } from 'preact/hooks';

export function useSubmit(send: () => Promise<void>) {
  const [trouble, setTrouble] = useState('');
  const [isBusy, setBusy] = useState(false);
  const submit = async () => {
    setBusy(true);
    setTrouble('');
    try {
      await send();
    } catch (error) {
      setTrouble((error as Error).message);
    } finally {
      setBusy(false);
    }
  };
  const onSubmit = (event: Event) => {
    event.preventDefault();
    void submit();
  };
  return { trouble, isBusy, onSubmit };
}
