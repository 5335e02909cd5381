// Waits beside the work: the time left by the clock of the server, and a ring when it is over.
(() => {
  "use strict";
  const strip = document.querySelector("[data-waits]");
  const title = document.title;
  const asked = new Set();
  let read = performance.now();
  let sound = null;

  // A browser lets a page sound once it was touched.
  const heard = () => {
    try { sound ??= new AudioContext(); sound.resume(); } catch { /* it has none: the strip is seen */ }
    return sound;
  };
  document.addEventListener("pointerdown", heard, { once: true });

  const ring = () => {
    navigator.vibrate?.([300, 150, 300]);
    const by = heard();
    if (!by) return;
    [0, 0.35, 0.7].forEach((at) => {
      const tone = by.createOscillator();
      const volume = by.createGain();
      tone.frequency.value = 880;
      volume.gain.value = 0.25;
      tone.connect(volume).connect(by.destination);
      tone.start(by.currentTime + at);
      tone.stop(by.currentTime + at + 0.2);
    });
    strip.dataset.rung = "true";
  };

  const lasting = (seconds) => {
    const minutes = Math.ceil(seconds / 60);
    const [hours, rest] = [Math.floor(minutes / 60), minutes % 60];
    return hours ? `${hours} h${rest ? ` ${rest} min` : ""}` : `${rest} min`;
  };

  // Once for each tablet: it rings again on no other page.
  const rungBefore = (wait) => {
    const key = `rung ${wait}`;
    const before = sessionStorage.getItem(key);
    sessionStorage.setItem(key, "1");
    return before !== null;
  };

  const tell = () => {
    let over = 0;
    for (const line of strip.querySelectorAll("[data-wait]")) {
      const left = Number(line.dataset.left) - (performance.now() - read) / 1000;
      const words = left > 0 ? strip.dataset.leftWords.replace("{value}", lasting(left)) : strip.dataset.overWords;
      const told = line.querySelector("strong");
      if (told.textContent !== words) told.textContent = words;
      line.classList.toggle("over", left <= 0);
      if (left > 0) continue;
      over += 1;
      told.setAttribute("role", "alert");
      if (!asked.has(line.dataset.wait)) {
        asked.add(line.dataset.wait);
        renew(line.dataset.wait);
      }
    }
    document.title = over ? `${strip.dataset.overWords} · ${title}` : title;
  };

  // What another tablet ended meanwhile is gone; what is still there when its time is over rings.
  const renew = async (wait) => {
    try {
      const answer = await fetch(strip.dataset.waits);
      if (answer.ok && !answer.redirected) {
        strip.innerHTML = await answer.text();
        read = performance.now();
      }
    } catch { /* no connection: the time goes on as it was told last */ }
    const line = wait && strip.querySelector(`[data-wait="${wait}"]`);
    if (line && Number(line.dataset.left) > 0) asked.delete(wait); // our clock ran ahead
    else if (line && !rungBefore(wait)) ring();
    tell();
  };

  document.addEventListener("visibilitychange", () => { if (!document.hidden) renew(); });
  setInterval(tell, 1000);
  tell();
})();
