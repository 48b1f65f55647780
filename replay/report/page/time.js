// The take over time: a canvas a track, all on one axis. Only what is on the screen is drawn.
const whole = Math.max(data.duration_s, 0.1);
const least = Math.min(whole, Math.max(data.strips.step_s * 40, 2));
let from = 0, to = whole;

const strips = new Map();
Object.entries(data.strips.tracks).forEach(([number, strip]) => {
  const text = atob(strip.bytes), n = strip.columns, bytes = new Uint8Array(text.length);
  for (let i = 0; i < text.length; i++) bytes[i] = text.charCodeAt(i);
  const row = (k) => bytes.subarray(k * n, (k + 1) * n);
  strips.set(number, { ...strip, high: row(0), low: row(1), rms: row(2), loud: row(3) });
});
const sampleDb = (code) => Math.abs(code - 128) / 2 - 63.5;
const levelDb = (code) => (code === 0 ? -200 : (code - 1) / 2.4 - 100);

const colours = () => {
  const style = getComputedStyle(document.documentElement);
  const of = (name) => style.getPropertyValue(`--${name}`).trim();
  return { pale: of("pale"), deep: of("deep"), bad: of("bad"), look: of("look"), ink: of("ink"), rule: of("rule"),
    loud: of("loud"), soft: of("soft"), paper: of("paper") };
};

// A canvas fitted to its place on this screen; undefined while it has no place.
const prepare = (canvas) => {
  const width = canvas.clientWidth, sharp = Math.min(devicePixelRatio || 1, 2);
  if (!width) return undefined;
  if (!canvas.dataset.tall) canvas.dataset.tall = canvas.getAttribute("height");
  const height = Number(canvas.dataset.tall);
  canvas.style.height = `${height}px`;
  if (canvas.width !== Math.round(width * sharp) || canvas.height !== Math.round(height * sharp)) {
    canvas.width = Math.round(width * sharp);
    canvas.height = Math.round(height * sharp);
  }
  const pen = canvas.getContext("2d");
  pen.setTransform(sharp, 0, 0, sharp, 0, 0);
  pen.clearRect(0, 0, width, height);
  return { pen, width, height, x: (seconds) => ((seconds - from) / (to - from)) * width };
};

// For every pixel across, the columns that fall on it.
const across = (strip, width, visit) => {
  const step = data.strips.step_s;
  for (let x = 0; x < width; x++) {
    const first = Math.floor((from + ((to - from) * x) / width) / step);
    const last = Math.max(first + 1, Math.ceil((from + ((to - from) * (x + 1)) / width) / step));
    if (first >= strip.columns) return;
    visit(x, first, Math.min(last, strip.columns));
  }
};
const greatest = (row, first, last) => {
  let found = row[first];
  for (let i = first + 1; i < last; i++) if (row[i] > found) found = row[i];
  return found;
};
const smallest = (row, first, last) => {
  let found = row[first];
  for (let i = first + 1; i < last; i++) if (row[i] < found) found = row[i];
  return found;
};

const drawLevels = (place, strip, bottom, peaks, rms) => {
  const { pen, width, height } = place;
  const y = (db) => height * Math.min(1, Math.max(0, db / bottom));
  const [pale, dark] = [new Path2D(), new Path2D()];
  across(strip, width, (x, first, last) => {
    const peak = Math.max(sampleDb(greatest(strip.high, first, last)), sampleDb(smallest(strip.low, first, last)));
    const power = levelDb(greatest(strip.rms, first, last));
    if (peak > bottom) pale.rect(x, y(peak), 1, height - y(peak));
    if (power > bottom) dark.rect(x, y(power), 1, height - y(power));
  });
  pen.fillStyle = peaks;
  pen.fill(pale);
  pen.fillStyle = rms;
  pen.fill(dark);
};
const drawMarks = (place, strip, ink) => {
  const { pen, height, x } = place;
  pen.fillStyle = pen.strokeStyle = ink.bad;
  pen.lineWidth = 2;
  strip.gaps.forEach(([a, b]) => {  // crossed out: nothing recorded
    const left = x(a), right = Math.max(x(b), left + 2);
    pen.strokeRect(left, 1, right - left, height - 2);
    pen.beginPath();
    pen.moveTo(left, 1); pen.lineTo(right, height - 1); pen.moveTo(right, 1); pen.lineTo(left, height - 1);
    pen.stroke();
  });
  let before = -9;
  strip.clips.forEach((at) => {
    const place = x(at);
    if (place < -5 || place - before < 4) return;
    before = place;
    pen.beginPath();
    pen.moveTo(place - 4, 0); pen.lineTo(place + 4, 0); pen.lineTo(place, 8);
    pen.fill();
  });
  pen.fillStyle = pen.strokeStyle = ink.look;
  strip.marks.forEach(([a, b]) => {
    const left = x(a), right = Math.max(x(b), left + 1);
    pen.fillRect(left, height - 3, right - left, 3);
    pen.beginPath();
    pen.moveTo(left - 5, height - 6); pen.lineTo(left, height - 12); pen.lineTo(left + 5, height - 6); pen.lineTo(left, height);
    pen.fill();
  });
  pen.strokeStyle = ink.ink;
  pen.lineWidth = 1;
  pen.setLineDash([4, 3]);
  data.judged_s.forEach((at) => {
    if (at <= 0 || at >= whole) return;
    pen.beginPath();
    pen.moveTo(x(at), 0); pen.lineTo(x(at), height);
    pen.stroke();
  });
  pen.setLineDash([]);
};

const steps = [0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200];
const drawAxis = (ink) => {
  const place = prepare(one("#axis"));
  if (!place) return;
  const { pen, width, x } = place;
  pen.font = "12px system-ui, sans-serif";
  pen.fillStyle = ink.ink;
  pen.strokeStyle = ink.soft;
  const step = steps.find((one) => ((to - from) / one) * 70 <= width) || 7200;
  for (let at = Math.ceil(from / step) * step; at <= to; at += step) {
    pen.fillRect(x(at), 36, 1, 8);
    pen.fillText(step < 1 ? `${clock(at)}.${Math.round(at * 10) % 10}` : clock(at), x(at) + 3, 42);
  }
  data.strips.stretches.forEach(([a, b, words]) => {  // the line check outlined, what is played filled
    const left = Math.max(x(a), 0), right = Math.min(x(b), width);
    if (right <= left) return;
    const check = words === "line check";
    pen.fillStyle = ink.deep;
    pen.strokeStyle = ink.deep;
    if (check) pen.strokeRect(left + 1, 3, right - left - 2, 14);
    else pen.fillRect(left, 2, right - left - 1, 16);
    pen.fillStyle = check ? ink.ink : ink.paper;
    if (right - left > pen.measureText(words).width + 8) pen.fillText(words, left + 4, 14);
  });
};

const onScreen = new Set();
const drawStrip = (canvas, ink) => {
  const strip = strips.get(canvas.parentElement.dataset.track);
  const place = strip && prepare(canvas);
  if (!place) return;
  drawLevels(place, strip, -60, ink.pale, ink.deep);
  drawMarks(place, strip, ink);
};
let asked = false;
const extraDrawings = [];  // the cards' pictures follow the same part of the take
const drawTime = () => {
  if (asked) return;
  asked = true;
  requestAnimationFrame(() => {
    asked = false;
    const ink = colours();
    drawAxis(ink);
    onScreen.forEach((canvas) => drawStrip(canvas, ink));
    extraDrawings.forEach((draw) => draw(ink));
    const resolution = data.strips.step_s < 1 ? `${Math.round(data.strips.step_s * 1000)} ms` : `${data.strips.step_s} s`;
    one("#span").textContent = `${clock(from)} to ${clock(to)}; finest ${resolution}`;
  });
};
const watcher = new IntersectionObserver((entries) => {
  entries.forEach((entry) => (entry.isIntersecting ? onScreen.add(entry.target) : onScreen.delete(entry.target)));
  drawTime();
}, { rootMargin: "200px" });
all(".strip canvas").forEach((canvas) => watcher.observe(canvas));

const show = (a, b) => {
  const length = Math.min(Math.max(b - a, least), whole);
  from = Math.min(Math.max(a, 0), whole - length);
  to = from + length;
  drawTime();
};
const zoom = (factor, middle = (from + to) / 2) => show(middle - (middle - from) * factor, middle + (to - middle) * factor);
const move = (share) => show(from + (to - from) * share, to + (to - from) * share);
one("#z-in").addEventListener("click", () => zoom(0.5));
one("#z-out").addEventListener("click", () => zoom(2));
one("#z-left").addEventListener("click", () => move(-0.5));
one("#z-right").addEventListener("click", () => move(0.5));
one("#z-all").addEventListener("click", () => show(0, whole));

const field = one("#strips");
field.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const act = { "+": () => zoom(0.5), "=": () => zoom(0.5), "-": () => zoom(2), ArrowLeft: () => move(-0.25),
    ArrowRight: () => move(0.25), 0: () => show(0, whole) }[event.key];
  if (act) { act(); event.preventDefault(); }
});
const secondAt = (canvas, clientX) => {
  const edge = canvas.getBoundingClientRect();
  return from + ((clientX - edge.left) / edge.width) * (to - from);
};
field.addEventListener("wheel", (event) => {
  if (!event.ctrlKey || event.target.tagName !== "CANVAS") return;
  event.preventDefault();
  zoom(Math.exp(Math.min(Math.max(event.deltaY, -60), 60) / 60), secondAt(event.target, event.clientX));
}, { passive: false });

// Drag to move, two fingers to come closer.
const fingers = new Map();
field.addEventListener("pointerdown", (event) => {
  if (event.target.tagName === "CANVAS") fingers.set(event.pointerId, event.clientX);
});
field.addEventListener("pointermove", (event) => {
  const canvas = event.target;
  if (canvas.tagName !== "CANVAS") return;
  const before = fingers.get(event.pointerId);
  if (before === undefined) return point(canvas, event.clientX);
  const second = (to - from) / canvas.clientWidth;
  const others = [...fingers].filter(([id]) => id !== event.pointerId);
  if (others.length) {
    const was = Math.abs(before - others[0][1]), is = Math.abs(event.clientX - others[0][1]);
    if (was > 8 && is > 8) zoom(was / is, secondAt(canvas, (event.clientX + others[0][1]) / 2));
  } else show(from - (event.clientX - before) * second, to - (event.clientX - before) * second);
  fingers.set(event.pointerId, event.clientX);
});
["pointerup", "pointercancel", "pointerleave"].forEach((kind) =>
  addEventListener(kind, (event) => fingers.delete(event.pointerId)));

const point = (canvas, clientX) => {
  const row = canvas.parentElement, strip = strips.get(row.dataset.track), second = secondAt(canvas, clientX);
  if (!strip) return;
  const column = Math.min(Math.max(Math.floor(second / data.strips.step_s), 0), strip.columns - 1);
  const peak = Math.max(sampleDb(strip.high[column]), sampleDb(strip.low[column]));
  const found = strip.marks.filter(([a, b]) => second >= a - 1 && second <= b + 1).map((mark) => mark[2]);
  const said = (db, unit) => (db <= -63 ? "nothing" : `${db.toFixed(1)} ${unit}`);
  const name = row.firstElementChild.textContent.trim().replace(/\s+/g, " ");
  const parts = [`${name} at ${clock(second)}: peak ${said(peak, "dBFS")}`, `RMS ${said(levelDb(strip.rms[column]), "dBFS")}`];
  one("#pointed").textContent = parts.concat(found).join(", ");
};
redraws.push(drawTime);
addEventListener("resize", drawTime);
