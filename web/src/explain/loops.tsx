// Flow against volume, breath by breath: a scooped way out is a narrowed airway.
import type { Signal } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import type { Now } from '../generated/bedside';
import { theme } from '../lib/settings';
import { cssColour, enlargement } from './ink';
import type { FlowPoint, Tape } from './tape';

const kMargin = 22;

export function Loops({ tape, now }: { tape: Tape; now: Signal<Now | null> }) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const shade = theme.value;
  useEffect(() => {
    const element = canvas.current!;
    let width = 0;
    const height = 220;
    const pen = element.getContext('2d')!;
    const ink = cssColour('--ink'), line = cssColour('--line'), soft = cssColour('--soft'),
      accent = cssColour('--accent'), font = cssColour('--sans');
    let frame = requestAnimationFrame(function draw() {
      frame = requestAnimationFrame(draw);
      const points = tape.flow;
      if (!now.peek() || points.length < 3) return;
      const wanted = Math.round(Math.max(200, element.clientWidth / enlargement()));
      if (width !== wanted) {
        width = element.width = wanted;
        element.height = height;
      }
      let low = Infinity, high = -Infinity, most = 0.3;
      for (const point of points) {
        low = Math.min(low, point.volume);
        high = Math.max(high, point.volume);
        most = Math.max(most, Math.abs(point.flow));
      }
      const span = Math.max(0.05, high - low);
      const x = (point: FlowPoint) => kMargin + ((point.volume - low) / span) * (width - 2 * kMargin);
      // out is up, as on a spirometer
      const y = (point: FlowPoint) => height / 2 + (point.flow / most) * (height / 2 - kMargin);
      pen.clearRect(0, 0, width, height);
      pen.strokeStyle = line;
      pen.lineWidth = 1;
      pen.beginPath();
      pen.moveTo(0, height / 2);
      pen.lineTo(width, height / 2);
      pen.stroke();
      pen.fillStyle = soft;
      pen.font = `12px ${font}`;
      pen.fillText('out', 2, 12);
      pen.fillText('in', 2, height - 4);
      pen.fillText(`volume, ${span.toFixed(2)} L a breath`, width / 2 - 40, height - 4);
      pen.strokeStyle = soft;
      pen.lineWidth = 1.2;
      pen.beginPath();
      points.forEach((point, i) => {
        if (i === 0) pen.moveTo(x(point), y(point));
        else pen.lineTo(x(point), y(point));
      });
      pen.stroke();
      const breath = points[points.length - 1]!.breath;
      const current = points.filter((point) => point.breath === breath);
      pen.strokeStyle = ink;
      pen.lineWidth = 2.6;
      pen.beginPath();
      current.forEach((point, i) => {
        if (i === 0) pen.moveTo(x(point), y(point));
        else pen.lineTo(x(point), y(point));
      });
      pen.stroke();
      const tip = points[points.length - 1]!;
      pen.fillStyle = accent;
      pen.beginPath();
      pen.arc(x(tip), y(tip), 5, 0, 2 * Math.PI);
      pen.fill();
    });
    return () => cancelAnimationFrame(frame);
  }, [tape, shade]);
  return (
    <figure class="picture">
      <canvas class="loops" ref={canvas} role="img" aria-label="Flow against volume of the last breaths" />
      <figcaption class="small soft">Flow against volume; the thick line is this breath</figcaption>
    </figure>
  );
}
