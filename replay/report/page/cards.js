// A channel's own card: opened by its links; its pictures show the same part of the take as the strips.
const drawCard = (card, ink) => {
  const strip = strips.get(card.dataset.track);
  if (!card.open || card.hidden || !strip) return;
  const wave = prepare(one(".wave", card));
  if (wave) {
    const { pen, width, height } = wave, middle = height / 2;
    const swing = (code) => {
      const steps = code - 128;
      return steps === 0 ? 0 : Math.sign(steps) * 10 ** (sampleDb(code) / 20);
    };
    pen.fillStyle = ink.rule;
    pen.fillRect(0, middle, width, 1);
    pen.fillStyle = ink.deep;
    across(strip, width, (x, first, last) => {
      const up = swing(greatest(strip.high, first, last)), down = swing(smallest(strip.low, first, last));
      pen.fillRect(x, middle - up * middle, 1, Math.max((up - down) * middle, 1));
    });
    drawMarks(wave, strip, ink);
  }
  const course = prepare(one(".course", card));
  if (course) {
    const { pen, width, height } = course, bottom = -60;
    pen.font = "11px system-ui, sans-serif";
    pen.fillStyle = ink.rule;
    [-48, -36, -24, -12].forEach((db) => pen.fillRect(0, (height * db) / bottom, width, 1));
    drawLevels(course, strip, bottom, ink.pale, ink.deep);
    pen.strokeStyle = ink.loud;
    pen.lineWidth = 2;
    pen.beginPath();
    let begun = false;
    across(strip, width, (x, first, last) => {
      const loud = levelDb(greatest(strip.loud, first, last));
      const y = height * Math.min(1, Math.max(0, loud / bottom));
      if (begun) pen.lineTo(x, y); else pen.moveTo(x, y);
      begun = true;
    });
    pen.stroke();
    pen.fillStyle = ink.ink;
    [-48, -24, -12].forEach((db) => pen.fillText(`${db}`, 3, (height * db) / bottom - 2));
    pen.fillText(clock(from), 3, height - 4);
    const end = clock(to);
    pen.fillText(end, width - pen.measureText(end).width - 3, height - 4);
  }
};
const cards = all(".card");
extraDrawings.push((ink) => cards.forEach((card) => drawCard(card, ink)));
cards.forEach((card) => card.addEventListener("toggle", drawTime));

const openTarget = () => {
  const target = /^#ch-\d+$/.test(location.hash) && one(location.hash);
  if (!target) return;
  if (target.hidden) { filter.reset(); setTimeout(openTarget); }
  target.open = true;
  target.scrollIntoView();
  one("summary", target).focus({ preventScroll: true });
};
addEventListener("hashchange", openTarget);
// A second click on the same link changes no address.
addEventListener("click", (event) => {
  const link = event.target.closest && event.target.closest('a[href^="#ch-"]');
  if (link && link.hash === location.hash) { openTarget(); event.preventDefault(); }
});
all(".go").forEach((button) => button.addEventListener("click", () => {
  const a = Number(button.dataset.at), b = Number(button.dataset.to);
  show(a - 3, Math.max(Math.min(b, a + 60), a) + 3);
}));
openTarget();
