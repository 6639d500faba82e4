// A file for the person at the page to keep.
export function save(name: string, contents: Blob): void {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(contents);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 1000);
}
