// Following one channel through the drawing, the table and the strips.
const drawing = one("#drawing");
const ways = all(".way", drawing);
let held = null;

const follow = (channel) => {
  ways.forEach((way) => {
    const on = way.dataset.ch === channel;
    way.classList.toggle("followed-way", on);
    way.setAttribute("aria-pressed", String(on));
    if (on) one("#followed").textContent = way.getAttribute("aria-label");
  });
  drawing.classList.toggle("following", channel !== null);
  if (channel === null) one("#followed").textContent = "No channel is followed.";
  all("#level-table tbody tr, .strip").forEach((row) =>
    row.classList.toggle("followed-row", channel !== null && row.dataset.ch === channel));
};
const hold = (channel) => {
  held = held === channel ? null : channel;
  follow(held);
};
const rove = (from, step) => {
  const to = ways[(ways.indexOf(from) + step + ways.length) % ways.length];
  ways.forEach((way) => way.setAttribute("tabindex", way === to ? "0" : "-1"));
  to.focus();
};
ways.forEach((way) => {
  way.addEventListener("pointerenter", (event) => { if (event.pointerType === "mouse") follow(way.dataset.ch); });
  way.addEventListener("pointerleave", (event) => { if (event.pointerType === "mouse") follow(held); });
  way.addEventListener("click", () => hold(way.dataset.ch));
  way.addEventListener("focus", () => { if (way.matches(":focus-visible")) follow(way.dataset.ch); });
  way.addEventListener("blur", () => follow(held));
  way.addEventListener("keydown", (event) => {
    if (event.key === "ArrowDown") rove(way, 1);
    else if (event.key === "ArrowUp") rove(way, -1);
    else if (event.key === "Enter" || event.key === " ") hold(way.dataset.ch);
    else if (event.key === "Escape") { held = null; follow(null); }
    else return;
    event.preventDefault();
  });
});
