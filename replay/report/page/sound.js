// A few seconds to hear. Quiet to begin with, one at a time, from memory.
const player = new Audio();
const volume = one("#volume");
let heard = null, address = null;

// Ears judge ratios: the slider's upper half is the last 12 dB.
const setVolume = () => { player.volume = (Number(volume.value) / 100) ** 2; };
const quiet = () => {
  player.pause();
  all(".hear").forEach((button) => button.setAttribute("aria-pressed", "false"));
  if (address) URL.revokeObjectURL(address);
  heard = address = null;
  one("#player").hidden = true;
};
all(".hear").forEach((button) => button.addEventListener("click", async () => {
  const channel = button.dataset.hear, again = heard === channel;
  quiet();
  if (again) return;
  const text = atob(data.excerpts[channel]), bytes = new Uint8Array(text.length);
  for (let i = 0; i < text.length; i++) bytes[i] = text.charCodeAt(i);
  address = URL.createObjectURL(new Blob([bytes], { type: "audio/mpeg" }));
  heard = channel;
  setVolume();
  player.src = address;
  one("#player").hidden = false;
  one("#playing").textContent = `Channel ${one(".name", button.closest(".card")).textContent}`;
  button.setAttribute("aria-pressed", "true");
  try {
    await player.play();
  } catch (error) {
    if (heard !== channel) return;  // stopped before it began
    quiet();
    one("#player").hidden = false;
    one("#playing").textContent = "This browser does not play it.";
  }
}));
player.addEventListener("ended", quiet);
volume.addEventListener("input", setVolume);
one("#stop").addEventListener("click", quiet);
