// Shows the values of the point nearest to the pointer, finger or keyboard focus of a picture.
// They stand in the drawing (its metadata), written as the report writes numbers; nothing is computed
// here but distances. Without this script the page lacks nothing else.
(() => {
  'use strict';
  const SVG = 'http://www.w3.org/2000/svg';
  const plates = [];

  const readings = (svg) => {
    const data = svg.querySelector('metadata');
    if (!data) return null;
    try {
      return JSON.parse(data.textContent);
    } catch {
      return null;
    }
  };

  // One box of words and one ring serve every picture.
  const tip = document.createElement('div');
  tip.setAttribute('role', 'status');
  tip.className = 'reading';
  tip.style.cssText =
    'position:absolute;z-index:9;pointer-events:none;max-width:17rem;padding:.3rem .55rem;' +
    'background:var(--paper,#fff);color:var(--ink,#222);border:1.5px solid currentColor;' +
    'font-size:.82rem;line-height:1.35;white-space:pre-line;visibility:hidden;left:0;top:0';
  const ring = document.createElementNS(SVG, 'circle');
  ring.setAttribute('fill', 'none');
  ring.setAttribute('stroke', '#1e1e1c');
  ring.setAttribute('stroke-width', '7');
  ring.setAttribute('r', '28');

  const hide = () => {
    tip.style.visibility = 'hidden';
    ring.remove();
  };

  const show = (plate, index) => {
    const { svg, data } = plate;
    const [x, y, series, words] = data.points[index];
    const name = data.series[series];
    tip.textContent = name ? `${name}\n${words}` : words;
    ring.setAttribute('cx', x);
    ring.setAttribute('cy', y);
    svg.append(ring);
    plate.at = index;
    const box = svg.getBoundingClientRect();
    const scale = box.width / svg.viewBox.baseVal.width;
    const room = document.documentElement.clientWidth;
    const left = box.left + x * scale;
    const top = box.top + y * scale;
    const wide = tip.offsetWidth;
    const high = tip.offsetHeight;
    const place = left + 14 + wide > room ? Math.max(left - 14 - wide, 2) : left + 14;
    const over = top - high - 12 < 0 ? top + 14 : top - high - 12;
    tip.style.left = `${Math.min(place, Math.max(room - wide - 2, 2)) + window.scrollX}px`;
    tip.style.top = `${over + window.scrollY}px`;
    tip.style.visibility = 'visible';
  };

  const nearest = ({ svg, data }, event) => {
    const box = svg.getBoundingClientRect();
    const scale = svg.viewBox.baseVal.width / box.width;
    const x = (event.clientX - box.left) * scale;
    const y = (event.clientY - box.top) * scale;
    let best = -1;
    let least = Infinity;
    data.points.forEach(([px, py], i) => {
      const distance = Math.hypot(px - x, py - y);
      if (distance < least) [best, least] = [i, distance];
    });
    // Farther than a finger's width nothing is meant.
    return least / scale <= 36 ? best : -1;
  };

  const point = (plate) => (event) => {
    const index = nearest(plate, event);
    if (index >= 0) show(plate, index);
    else hide();
  };

  // Left and right go along a series, up and down to the nearest point of the next one.
  const step = (plate, key) => {
    const { points, series } = plate.data;
    const here = plate.at ?? 0;
    const along = { ArrowRight: 1, ArrowLeft: -1 }[key];
    if (along) {
      const next = here + along;
      return points[next] && points[next][2] === points[here][2] ? next : here;
    }
    const across = { ArrowDown: 1, ArrowUp: -1 }[key];
    for (let s = points[here][2] + across; s >= 0 && s < series.length; s += across) {
      const own = points.map((p, i) => [p, i]).filter(([p]) => p[2] === s);
      if (own.length === 0) continue;
      const off = ([p]) => Math.abs(p[0] - points[here][0]);
      return own.reduce((a, b) => (off(b) < off(a) ? b : a))[1];
    }
    return here;
  };

  const press = (plate) => (event) => {
    if (event.key === 'Escape') return hide();
    if (!event.key.startsWith('Arrow')) return undefined;
    event.preventDefault();
    show(plate, step(plate, event.key));
    return undefined;
  };

  for (const svg of document.querySelectorAll('.plate svg')) {
    const data = readings(svg);
    if (!data || data.points.length === 0) continue;
    const plate = { svg, data };
    plates.push(plate);
    const holder = svg.closest('.plate');
    holder.tabIndex = 0;
    holder.setAttribute('aria-roledescription', 'picture; arrow keys read its values');
    svg.addEventListener('pointermove', point(plate));
    svg.addEventListener('pointerdown', point(plate));
    svg.addEventListener('pointerleave', hide);
    holder.addEventListener('keydown', press(plate));
    holder.addEventListener('focus', () => holder.matches(':focus-visible') && show(plate, plate.at ?? 0));
    holder.addEventListener('blur', hide);
  }
  if (plates.length > 0) document.body.append(tip);
})();
