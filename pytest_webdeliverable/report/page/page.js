"use strict";
(() => {
  const root = document.documentElement;
  const one = (selector, within = document) => within.querySelector(selector);
  const all = (selector, within = document) => [...within.querySelectorAll(selector)];
  const pieces = all(".piece");
  const patches = all(".strip i");
  root.classList.add("scripted");

  // Which surround lies around the pictures.
  const SURROUNDS = ["black", "gray", "white", "checks"];
  const WORDS = { black: "black", gray: "middle gray", white: "white", checks: "checks" };
  const surround = (value) => {
    root.dataset.surround = value;
    one("#shade span").textContent = WORDS[value];
    one(`input[name=surround][value=${value}]`).checked = true;
  };

  // Filters: verdict and family must meet in one finding.
  const fits = (piece, verdict, family, words) => {
    if (words && !piece.dataset.words.includes(words)) return false;
    const found = piece.dataset.found.split(" ").filter(Boolean).map((token) => token.split(":"));
    const inFamily = found.filter((token) => !family || token[1] === family);
    if (verdict === "passed") return family ? inFamily.length === 0 : piece.dataset.verdict === "passed";
    if (verdict && family) return inFamily.some((token) => token[0] === verdict);
    if (verdict) return piece.dataset.verdict === verdict;
    return !family || inFamily.length > 0;
  };
  const filter = () => {
    const verdict = one("input[name=verdict]:checked").value;
    const family = one("#family").value;
    const words = one("#words").value.trim().toLowerCase();
    let shown = 0;
    pieces.forEach((piece, index) => {
      const fit = fits(piece, verdict, family, words);
      piece.hidden = !fit;
      if (patches[index]) patches[index].classList.toggle("out", !fit);
      shown += fit;
    });
    const count = one("#count");
    count.textContent = shown === pieces.length ? "" : `${shown} of ${pieces.length} shown`;
  };

  // Open and close a sheet.
  const opener = (piece) => one(".open", piece);
  const toggle = (piece, open) => {
    piece.classList.toggle("opened", open);
    opener(piece).setAttribute("aria-expanded", String(open));
    const picture = one(".look", piece);
    if (!open || !picture) return;
    // The picture's size decides how long its edges are, so they wait for it.
    if (picture.complete) aim(piece);
    else picture.addEventListener("load", () => aim(piece), { once: true });
  };
  const aim = (piece) => {
    for (const edge of all(".edge", piece)) {
      const at = Number(edge.dataset.at);
      if (edge.matches(".top, .bottom")) edge.scrollLeft = at - edge.clientWidth / 2;
      else edge.scrollTop = at - edge.clientHeight / 2;
      if (edge.matches(".right")) edge.scrollLeft = edge.scrollWidth;
    }
  };
  const show = (piece) => {
    piece.hidden = false;
    toggle(piece, true);
    piece.scrollIntoView({ block: "start" });
    opener(piece).focus({ preventScroll: true });
  };

  // The picture in the full window.
  const dialog = one("#window");
  let current = null;
  const pictured = () => pieces.filter((piece) => !piece.hidden && one(".look", piece));
  const look = (piece) => {
    current = piece;
    const picture = one(".look", piece);
    one("#window-picture").src = picture.src;
    one("#window-picture").alt = picture.alt;
    one("#window-name").textContent = opener(piece).textContent;
    one("#window-size").textContent = `seen as a copy of ${picture.getAttribute("width")} x ${picture.getAttribute("height")} px`;
    if (!dialog.open) dialog.showModal();
  };
  const step = (by) => {
    const list = pictured();
    const at = list.indexOf(current);
    look(list[(at + by + list.length) % list.length]);
  };

  // Arrow keys walk over the wall as the eye does.
  const walk = (from, key) => {
    const cards = pieces.filter((piece) => !piece.hidden);
    const at = cards.indexOf(from);
    if (key === "Home") return cards[0];
    if (key === "End") return cards[cards.length - 1];
    if (key === "ArrowRight") return cards[at + 1];
    if (key === "ArrowLeft") return cards[at - 1];
    const here = from.getBoundingClientRect();
    const down = key === "ArrowDown";
    const rest = down ? cards.slice(at + 1) : cards.slice(0, at).reverse();
    let best = null;
    for (const card of rest) {
      const box = card.getBoundingClientRect();
      if (down ? box.top <= here.top : box.top >= here.top) continue;
      if (best && box.top !== best.top) break;
      const off = Math.abs(box.left - here.left);
      if (!best || off < best.off) best = { card, off, top: box.top };
    }
    return best && best.card;
  };

  document.addEventListener("click", (event) => {
    const target = event.target;
    const piece = target.closest(".piece");
    if (target.closest(".open")) toggle(piece, !piece.classList.contains("opened"));
    else if (target.closest(".full")) look(piece);
    else if (target.closest(".strip i")) show(pieces[patches.indexOf(target)]);
  });
  document.addEventListener("keydown", (event) => {
    if (event.altKey || event.ctrlKey || event.metaKey) return;
    if (dialog.open) {
      if (event.key === "ArrowRight") step(1);
      if (event.key === "ArrowLeft") step(-1);
      return;
    }
    const piece = event.target.closest(".piece");
    if (piece && event.key === "Escape" && piece.classList.contains("opened")) {
      toggle(piece, false);
      opener(piece).focus();
      return;
    }
    if (!event.target.matches(".open")) return;
    if (!["ArrowRight", "ArrowLeft", "ArrowDown", "ArrowUp", "Home", "End"].includes(event.key)) return;
    const next = walk(piece, event.key);
    if (next) {
      event.preventDefault();
      opener(next).focus();
    }
  });
  document.addEventListener("change", (event) => {
    if (event.target.name === "surround") surround(event.target.value);
    else filter();
  });
  one(".tools").addEventListener("submit", (event) => event.preventDefault());
  one("#words").addEventListener("input", filter);
  one("#shade").addEventListener("click", () => {
    const at = SURROUNDS.indexOf(root.dataset.surround);
    surround(SURROUNDS[(at + 1) % SURROUNDS.length]);
  });
  one("#previous").addEventListener("click", () => step(-1));
  one("#next").addEventListener("click", () => step(1));
  one("#close").addEventListener("click", () => dialog.close());

  surround("gray");
  const asked = location.hash && document.getElementById(location.hash.slice(1));
  if (asked && asked.matches(".piece")) show(asked);
})();
