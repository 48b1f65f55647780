// Sorting the table of levels, and choosing channels for the table, the strips and the cards at once.
const body = one("#level-table tbody");
const heads = all("#level-table thead [data-sort]");

const sortBy = (head) => {
  const column = [...head.parentElement.children].indexOf(head);
  const up = head.getAttribute("aria-sort") !== "ascending";
  heads.forEach((other) => other.setAttribute("aria-sort", other === head ? (up ? "ascending" : "descending") : "none"));
  const value = (row) => row.children[column].dataset.v;
  const rows = [...body.rows];
  rows.sort((a, b) => {
    const x = value(a), y = value(b);
    if (x === "" || y === "") return (x === "") - (y === "");  // what has no figure stays below
    const numbers = !Number.isNaN(Number(x)) && !Number.isNaN(Number(y));
    const order = numbers ? Number(x) - Number(y) : x < y ? -1 : x > y ? 1 : 0;
    return up ? order : -order;
  });
  body.append(...rows);
};
heads.forEach((head) => one("button", head).addEventListener("click", () => sortBy(head)));

const filter = one("#filter");
const wanted = (row) => {
  const text = one("#f-text").value.trim().toLowerCase();
  const box = one("#f-box").value, bus = one("#f-bus"), trouble = one("#f-trouble").value;
  if (text && !row.dataset.name.includes(text)) return false;
  if (box && row.dataset.box !== box) return false;
  if (bus && bus.value && !row.dataset.buses.split("\n").includes(bus.value)) return false;
  return !trouble || row.dataset.trouble.split(" ").includes(trouble);
};
const choose = () => {
  const rows = [...body.rows];
  const chosen = new Set(rows.filter(wanted).map((row) => row.dataset.ch));
  rows.forEach((row) => { row.hidden = !chosen.has(row.dataset.ch); });
  all(".card, .strip").forEach((part) => {
    part.hidden = part.dataset.ch === "" ? chosen.size < rows.length : !chosen.has(part.dataset.ch);
  });
  one("#shown").textContent = `${chosen.size} of ${rows.length} channels`;
  redraws.forEach((redraw) => redraw());
};
filter.addEventListener("input", choose);
filter.addEventListener("submit", (event) => event.preventDefault());
filter.addEventListener("reset", () => setTimeout(choose));
