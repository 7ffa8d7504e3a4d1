// Keys and clicks. Every page works without this script; it only makes the
// way shorter. Nothing here knows what a report says.
"use strict";
(() => {
  const find = (s, in_ = document) => in_.querySelector(s);
  const all = (s, in_ = document) => [...in_.querySelectorAll(s)];

  // Single keys can be switched off: they get in the way of those who speak.
  const off = "windrow-keys-off";
  const keysOn = () => localStorage.getItem(off) !== "1";
  const box = find("#keys-on");
  if (box) {
    box.checked = keysOn();
    box.addEventListener("change", () => box.checked ? localStorage.removeItem(off) : localStorage.setItem(off, "1"));
  }
  const help = find("#keys");
  for (const b of all("[data-open=keys]")) b.addEventListener("click", () => help.showModal());

  // j and k go through the lines of a list.
  const rows = () => all("main a.row, main [data-row]");
  const step = (by) => {
    const list = rows();
    if (!list.length) return;
    const at = list.indexOf(document.activeElement.closest("a.row, [data-row]"));
    const next = list[Math.min(list.length - 1, Math.max(0, at < 0 ? (by > 0 ? 0 : list.length - 1) : at + by))];
    next.focus();
    next.scrollIntoView({ block: "nearest" });
  };

  document.addEventListener("keydown", (e) => {
    if (e.ctrlKey || e.metaKey || e.altKey || !keysOn()) return;
    if (e.target.closest("input:not([type=checkbox]):not([type=radio]), select, textarea, dialog")) return;
    const does = { j: () => step(1), k: () => step(-1), "?": () => help.showModal(), "/": () => find("#find").focus() }[e.key];
    if (does) {
      e.preventDefault();
      does();
    }
  });
})();
