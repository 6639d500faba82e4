// Where a recording was taken.
import { useEffect, useState } from 'preact/hooks';
import type { Site } from '../chest/landmarks';
import { getJson } from '../lib/api';

export function SitePick({ siteId, onPick }: { siteId: string; onPick: (siteId: string) => void }) {
  const [sites, setSites] = useState<Site[]>([]);
  useEffect(() => {
    getJson<{ sites: Site[] }>('sites').then((answer) => setSites(answer.sites), () => {/* the list stays short */});
  }, []);
  const chosen = sites.find((one) => one.id === siteId);
  return (
    <div>
      <label>
        Taken at{' '}
        <select value={siteId} onChange={(event) => onPick(event.currentTarget.value)}>
          <option value="">not said</option>
          {siteId && !chosen && <option value={siteId}>{siteId}</option>}
          {sites.map((one) => <option value={one.id}>{one.id} {one.name}</option>)}
        </select>
      </label>{' '}
      {chosen && <span class="soft small">{chosen.landmark}</span>}
    </div>
  );
}
