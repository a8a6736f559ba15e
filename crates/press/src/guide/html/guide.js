"use strict";
(() => {
  const key = "setapart-guide-" + document.body.dataset.mark;
  let kept = { ticks: {}, timers: {} };
  // A browser may forbid storage: then ticks last as long as the page.
  try { Object.assign(kept, JSON.parse(localStorage.getItem(key) || "{}")); } catch { /* start anew */ }
  const keep = () => { try { localStorage.setItem(key, JSON.stringify(kept)); } catch { /* not kept */ } };

  const boxes = [...document.querySelectorAll("input[data-tick]")];
  const steps = boxes.filter((box) => box.classList.contains("step-tick"));
  const said = document.querySelector("#progress span");
  const meter = document.querySelector("#progress meter");
  const count = () => {
    const done = steps.filter((box) => box.checked).length;
    const parts = document.body.dataset.done.split("{}");
    said.textContent = parts[0] + done + parts[1] + steps.length + parts[2];
    meter.value = steps.length ? done / steps.length : 0;
  };
  for (const box of boxes) {
    box.checked = Boolean(kept.ticks[box.dataset.tick]);
    box.addEventListener("change", () => {
      if (box.checked) kept.ticks[box.dataset.tick] = true; else delete kept.ticks[box.dataset.tick];
      keep();
      count();
    });
  }
  count();

  const timers = [...document.querySelectorAll("button[data-timer]")];
  for (const button of timers) {
    button.dataset.words = button.textContent;
    button.addEventListener("click", () => {
      const id = button.dataset.timer;
      if (kept.timers[id]) delete kept.timers[id];
      else kept.timers[id] = Date.now() + 1000 * Number(button.dataset.seconds);
      keep();
      show();
    });
  }
  const two = (n) => String(n).padStart(2, "0");
  const rung = new Set();
  const show = () => {
    const title = document.title.replace(/^● /, "");
    let up = false;
    for (const button of timers) {
      const end = kept.timers[button.dataset.timer];
      const left = end ? Math.ceil((end - Date.now()) / 1000) : 0;
      button.classList.toggle("running", Boolean(end) && left > 0);
      button.classList.toggle("up", Boolean(end) && left <= 0);
      if (!end) { button.textContent = button.dataset.words; rung.delete(button); continue; }
      if (left > 0) {
        button.textContent = `${Math.floor(left / 3600)}:${two(Math.floor(left / 60) % 60)}:${two(left % 60)}`;
      } else {
        button.textContent = document.body.dataset.up;
        up = true;
        if (!rung.has(button)) { rung.add(button); if (navigator.vibrate) navigator.vibrate([300, 150, 300]); }
      }
    }
    document.title = up ? "● " + title : title;
  };
  show();
  setInterval(show, 1000);

  document.querySelector("#forget").addEventListener("click", () => {
    kept = { ticks: {}, timers: {} };
    keep();
    for (const box of boxes) box.checked = false;
    count();
    show();
  });
})();
