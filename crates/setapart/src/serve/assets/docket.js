// The docket: what is to be seen to, as the app last said it.
// @ts-check

/** Puts the docket that came with an answer in place; it is our own page's markup. @param {string} markup */
export function putDocket(markup) {
  const place = document.querySelector("aside.docket");
  if (!place) return;
  const parsed = new DOMParser().parseFromString(markup, "text/html");
  place.replaceChildren(...parsed.body.childNodes);
}

/**
 * Calls `choose` when an entry that names parts is chosen. @param {(parts: string[]) => boolean} choose  Whether it could.
 */
export function onChoice(choose) {
  document.querySelector("aside.docket")?.addEventListener("click", (event) => {
    const entry = event.target instanceof Element ? event.target.closest("a[data-parts]") : null;
    if (!(entry instanceof HTMLElement)) return;
    if (choose(JSON.parse(entry.dataset.parts ?? "[]"))) event.preventDefault();
  });
}
