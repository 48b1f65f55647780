// What is done, remembered by this browser for this take.
const boxes = all("[data-task]");
const ticks = new Set();
try {
  JSON.parse(kept.read(`ticks:${data.take}`) || "[]").forEach((key) => ticks.add(String(key)));
} catch (error) { /* somebody else's text under our name: begin anew */ }

const showTicks = () => {
  boxes.forEach((box) => {
    box.checked = ticks.has(box.dataset.task);
    box.closest(".task").classList.toggle("done", box.checked);
  });
  const done = boxes.filter((box) => box.checked).length;
  if (boxes.length) {
    const forgetful = kept.works ? "" : " This browser forgets ticks when the page is closed.";
    one("#ticked").textContent = `${done} of ${boxes.length} done.${forgetful}`;
  }
};
boxes.forEach((box) => box.addEventListener("change", () => {
  if (box.checked) ticks.add(box.dataset.task);
  else ticks.delete(box.dataset.task);
  kept.write(`ticks:${data.take}`, JSON.stringify([...ticks]));
  showTicks();
}));
showTicks();
