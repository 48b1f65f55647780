// What all parts share: the data, short ways to find things, and what the browser remembers.
const data = JSON.parse(document.getElementById("data").textContent);
const one = (selector, within = document) => within.querySelector(selector);
const all = (selector, within = document) => [...within.querySelectorAll(selector)];

// Storage may be forbidden (private windows, some phones): then nothing is remembered, and that is said once.
const kept = {
  works: true,
  read(name) {
    try { return localStorage.getItem(`replay:${name}`); } catch (error) { this.works = false; return null; }
  },
  write(name, value) {
    try { localStorage.setItem(`replay:${name}`, value); } catch (error) { this.works = false; }
  },
};

const clock = (seconds) => {
  const whole = Math.floor(seconds), rest = String(whole % 60).padStart(2, "0");
  const minutes = Math.floor(whole / 60) % 60, hours = Math.floor(whole / 3600);
  return hours ? `${hours}:${String(minutes).padStart(2, "0")}:${rest}` : `${minutes}:${rest}`;
};

// Light, dark, or as the system has it.
const looks = ["system", "light", "dark"];
const lookSaid = { system: "as the system", light: "light", dark: "dark" };
let look = looks.includes(kept.read("look")) ? kept.read("look") : "system";
const redraws = [];
const showLook = () => {
  if (look === "system") delete document.documentElement.dataset.look;
  else document.documentElement.dataset.look = look;
  one("#look").textContent = `Light or dark: ${lookSaid[look]}`;
  redraws.forEach((redraw) => redraw());
};
one("#look").addEventListener("click", () => {
  look = looks[(looks.indexOf(look) + 1) % looks.length];
  kept.write("look", look);
  showLook();
});
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => redraws.forEach((redraw) => redraw()));

const print = (what) => {
  document.body.dataset.print = what;
  window.print();
};
one("#print-sheets").addEventListener("click", () => print("sheets"));
one("#print-report").addEventListener("click", () => print("report"));
addEventListener("afterprint", () => { document.body.dataset.print = "sheets"; });
showLook();
