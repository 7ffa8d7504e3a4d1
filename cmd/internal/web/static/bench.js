// The mapping desk: lines have numbers, and a mistake leads to its line. What
// is typed is sent and answered by htmx; without either, the page has a button.
"use strict";
(() => {
  const text = document.getElementById("text");
  if (!text) return;
  const gutter = document.getElementById("gutter");
  const verdict = document.getElementById("verdict");
  document.body.classList.add("scripted");

  // The numbers of lines stand beside them, those with a mistake marked.
  const number = () => {
    const amiss = new Set([...document.querySelectorAll("[data-amiss]")].map((a) => a.dataset.line));
    const asked = new Set([...document.querySelectorAll("[data-answer]")].map((b) => b.dataset.answer));
    const n = text.value.split("\n").length;
    gutter.replaceChildren();
    for (let i = 1; i <= n; i++) {
      const mark = amiss.has(String(i)) ? "amiss" : asked.has(String(i)) ? "asked" : "";
      const s = document.createElement("span");
      s.className = mark;
      s.textContent = (mark === "amiss" ? "✗ " : mark === "asked" ? "? " : "") + i + "\n";
      gutter.append(s);
    }
    gutter.scrollTop = text.scrollTop;
    for (const b of document.querySelectorAll("[data-answer][hidden]")) b.hidden = false;
  };
  let lines = 0;
  text.addEventListener("input", () => {
    const n = text.value.split("\n").length;
    if (n !== lines) number();
    lines = n;
  });
  text.addEventListener("scroll", () => { gutter.scrollTop = text.scrollTop; });

  // Where a line begins and ends in the text.
  const span = (line) => {
    const all = text.value.split("\n");
    let at = 0;
    for (let i = 0; i < line - 1 && i < all.length; i++) at += all[i].length + 1;
    return [at, at + (all[line - 1] || "").length];
  };
  const go = (line) => {
    const [from, to] = span(line);
    text.focus({ preventScroll: true });
    text.setSelectionRange(from, to);
    const high = text.scrollHeight / Math.max(1, text.value.split("\n").length);
    text.scrollTop = Math.max(0, (line - 6) * high);
    text.scrollLeft = 0;
    text.scrollIntoView({ block: "nearest" });
  };
  document.addEventListener("click", (e) => {
    const a = e.target.closest("a[data-line]");
    if (a) {
      e.preventDefault();
      go(Number(a.dataset.line));
      return;
    }
    // A question that is answered is a comment no more.
    const b = e.target.closest("[data-answer]");
    if (!b) return;
    const [from, to] = span(Number(b.dataset.answer));
    const line = text.value.slice(from, to);
    const q = line.match(/^(.*?)(\s*#(?:(?!#).)*?\bQUESTION:.*)$/);
    if (!q) return;
    // A line that is nothing but the question goes whole.
    const end = q[1].trim() === "" && to < text.value.length ? to + 1 : to;
    text.setRangeText(q[1].trim() === "" ? "" : q[1], from, end, "preserve");
    const next = b.closest("li").nextElementSibling || b.closest("li").previousElementSibling;
    const then = next && next.querySelector("[data-answer]");
    focusLater = then ? [...document.querySelectorAll("[data-answer]")].indexOf(b) : -1;
    text.dispatchEvent(new Event("input", { bubbles: true }));
  });
  // The list is made anew; whoever went through it by keys goes on in it.
  let focusLater = -1;
  document.addEventListener("htmx:afterSwap", (e) => {
    if (e.target.id !== "verdict" && !verdict.contains(e.target)) return;
    number();
    if (focusLater >= 0) {
      const list = document.querySelectorAll("[data-answer]");
      const b = list[Math.min(focusLater, list.length - 1)];
      if (b) b.focus({ preventScroll: true });
      focusLater = -1;
    }
  });
  // What could not be sent must not look as if it were kept.
  const unkept = document.getElementById("unkept");
  const sent = (well) => (e) => { if (e.target === text) unkept.hidden = well; };
  document.addEventListener("htmx:responseError", sent(false));
  document.addEventListener("htmx:sendError", sent(false));
  document.addEventListener("htmx:timeout", sent(false));
  text.addEventListener("htmx:afterOnLoad", sent(true));
  number();
})();
