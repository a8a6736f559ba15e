// Frames that hold the parts: smallest first, each with its layout.
// @ts-check
import { element } from "./page.js";
import { said } from "./lengths.js";

export class Frames {
  /** @param {HTMLElement} opener @param {(choice: any) => void} chosen */
  constructor(opener, chosen) {
    this.opener = opener;
    this.chosen = chosen;
  }

  /** @param {{name: string, frame: any, fill: number, uncaptioned: number, picture: string}[]} frames */
  show(frames) {
    const dialog = element("dialog", { class: "frames", "aria-labelledby": "frames-title" });
    /** @type {string[]} */
    const urls = [];
    const items = frames.map((choice) => {
      const url = URL.createObjectURL(new Blob([choice.picture], { type: "image/svg+xml" }));
      urls.push(url);
      const [w, h] = choice.frame.size_mm;
      const words = [`${Math.round(100 * choice.fill)} % filled`, choice.uncaptioned > 0 ? `${choice.uncaptioned} without a caption` : ""];
      const button = element("button", { type: "button", class: "frame-choice" },
        element("span", { class: "small-frame" }, element("img", { src: url, alt: "" })),
        element("strong", {}, choice.name),
        element("span", { class: "soft" }, `${said(w, 0)} x ${said(h, 0)}`),
        element("span", { class: "soft" }, words.filter((t) => t !== "").join(", ")));
      button.addEventListener("click", () => {
        dialog.close();
        this.chosen(choice);
      });
      return element("li", {}, button);
    });
    const close = element("button", { type: "button" }, "Leave it as it is");
    close.addEventListener("click", () => dialog.close());
    dialog.addEventListener("close", () => {
      for (const url of urls) URL.revokeObjectURL(url);
      dialog.remove();
      this.opener.focus();
    });
    dialog.append(
      element("h2", { id: "frames-title" }, frames.length === 0 ? "No stock frame holds these parts" : `${frames.length} frames hold these parts`),
      frames.length === 0
        ? element("p", {}, "Take parts off the board, make the gap smaller, or have a frame made to measure.")
        : element("ul", { class: "frame-choices" }, ...items),
      element("p", { class: "buttons" }, close),
    );
    document.body.append(dialog);
    dialog.showModal();
  }
}
