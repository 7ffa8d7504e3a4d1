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

  // A value and its place on the page belong together: each leads to the other.
  const leaves = find("#leaves");
  const point = (n, to, jump) => {
    for (const e of all(".on")) e.classList.remove("on");
    const mark = document.getElementById("m-" + n), line = document.getElementById("v-" + n);
    for (const e of [mark, line]) if (e) e.classList.add("on");
    const details = line && line.closest("details");
    if (details) details.open = true;
    if (to === "mark" && mark) {
      const m = mark.getBoundingClientRect(), box = leaves.getBoundingClientRect();
      leaves.scrollBy(m.left + m.width / 2 - box.left - box.width / 2, m.top + m.height / 2 - box.top - box.height / 2);
      if (jump) leaves.scrollIntoView({ block: "nearest" });
    }
    if (to === "line" && line) {
      (find("a[data-row]", line) || line).focus({ preventScroll: true });
      line.scrollIntoView({ block: "center" });
    }
  };
  if (leaves) {
    document.addEventListener("click", (e) => {
      const a = e.target.closest('a[href^="#m-"], a[href^="#v-"]');
      if (!a) return;
      e.preventDefault();
      const href = a.getAttribute("href");
      point(href.slice(3), href.startsWith("#m-") ? "mark" : "line", true);
    });
    document.addEventListener("focusin", (e) => {
      const a = e.target.closest("a[data-row][data-n]");
      if (a) point(a.dataset.n, "mark");
    });
  }

  // An address that ends in a place, or in a value, leads to it.
  const arrive = () => {
    const m = location.hash.match(/^#([mvr])-(\d+)$/);
    if (!m) return;
    if (m[1] === "r") {
      const d = document.getElementById("r-" + m[2]);
      if (d) d.open = true;
    } else if (leaves) {
      point(m[2], m[1] === "m" ? "mark" : "line", true);
    }
  };
  window.addEventListener("hashchange", arrive);
  window.addEventListener("load", arrive);
  for (const b of all("[data-unfold]")) b.addEventListener("click", () => { for (const d of all("details.lineage")) d.open = true; });
  // On paper are the steps that a person has opened, and those of a value about
  // which there is something to say.
  let forPaper = [];
  window.addEventListener("beforeprint", () => {
    forPaper = all("details.lineage:not([open])").filter((d) => find(".why, .note", d));
    for (const d of forPaper) d.open = true;
  });
  window.addEventListener("afterprint", () => { for (const d of forPaper) d.open = false; });

  // Larger and smaller pages.
  const steps = [75, 100, 150, 200, 300];
  const zoom = (by) => {
    if (!leaves) return;
    const at = steps[Math.min(steps.length - 1, Math.max(0, steps.indexOf(Number(leaves.dataset.zoom)) + by))];
    leaves.dataset.zoom = at;
    find("#zoomed").textContent = at + " %";
  };
  if (leaves) find(".zoom").hidden = false;
  if (leaves && leaves.clientWidth < 480) zoom(2); // a page as narrow as a telephone can't be read
  for (const b of all("button[data-zoom]")) b.addEventListener("click", () => zoom(Number(b.dataset.zoom)));

  // The next number that nothing accounts for.
  const unaccounted = () => {
    const list = all(".v.unaccounted a[data-row]");
    if (list.length) list[(list.indexOf(document.activeElement) + 1) % list.length].focus();
  };

  // Files that are dropped on the page go where the form sends them.
  const form = find("form.bring");
  if (form) {
    const input = find("input[type=file]", form);
    const over = (on) => (e) => {
      if (![...(e.dataTransfer || { types: [] }).types].includes("Files")) return;
      e.preventDefault();
      form.classList.toggle("over", on);
    };
    addEventListener("dragover", over(true));
    addEventListener("dragleave", over(false));
    addEventListener("drop", (e) => {
      over(false)(e);
      if (!e.dataTransfer.files.length) return;
      input.files = e.dataTransfer.files;
      form.requestSubmit();
    });
    form.addEventListener("submit", () => { find("button", form).textContent = "Sending…"; });
  }

  // How far they are is told as they move, while the page is in sight. Where that
  // can't be, as behind a proxy that holds answers back, it is asked for again
  // and again.
  const state = find("[data-again]");
  if (state) {
    let asking = false, moved = false, live = null;
    const last = {};
    for (const part of all("section[id]", state)) last[part.id] = part.innerHTML;
    const again = async () => {
      if (document.hidden) return;
      moved = asking;
      if (asking) return;
      asking = true;
      try {
        const answer = await fetch(state.dataset.again);
        if (answer.status === 401) location.reload(); // nobody is signed in any more: the page must not look as if it went on telling
        if (answer.ok) {
          const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
          for (const part of all("section[id]", fresh)) {
            const old = document.getElementById(part.id);
            // Whoever goes through a part by keys is not thrown out of it.
            if (last[part.id] === part.innerHTML || old.contains(document.activeElement)) continue;
            last[part.id] = part.innerHTML;
            old.replaceWith(document.adoptNode(part));
          }
          const said = find("[data-say]").textContent;
          if (find("#said").textContent !== said) find("#said").textContent = said;
        }
      } catch { /* the program was stopped; the page says what it last said */ }
      setTimeout(() => { asking = false; if (moved) again(); }, 90);
    };
    const listen = () => {
      if (document.hidden) { // a stream that nobody sees would keep other pages waiting for a connection
        if (live) live.close();
        live = null;
      } else if (!live) {
        live = new EventSource(state.dataset.live);
        live.onopen = live.onmessage = again;
        live.onerror = () => {
          if (live && live.readyState === EventSource.CLOSED) live = null;
        };
      }
    };
    document.addEventListener("visibilitychange", listen);
    listen();
    setInterval(() => { again(); listen(); }, 4000);
  }

  // Enter behind a word goes to the next one: it accepts no report.
  for (const list of all("ul.compare")) list.addEventListener("keydown", (e) => {
    if (e.key !== "Enter" || !e.target.matches("input")) return;
    e.preventDefault();
    const words = all("ul.compare input").filter((i) => i.offsetParent);
    const next = words[words.indexOf(e.target) + 1] || all("form button").find((b) => !b.disabled && words[0].form === b.form);
    if (next) next.focus();
  });

  const follow = (s) => {
    const a = find(s);
    if (!a) return;
    const to = a.hash && document.getElementById(a.hash.slice(1));
    if (!to || a.pathname !== location.pathname) return a.click();
    to.focus({ preventScroll: true });
    to.scrollIntoView();
  };

  document.addEventListener("keydown", (e) => {
    if (e.ctrlKey || e.metaKey || e.altKey || !keysOn()) return;
    if (e.target.closest("input:not([type=checkbox]):not([type=radio]), select, textarea, dialog")) return;
    const does = { j: () => step(1), k: () => step(-1), "?": () => help.showModal(), "/": () => find("#find").focus(),
      u: unaccounted, n: () => follow("a[rel=next]"), d: () => follow("a[data-decide], a[href='#h-sign']"), "+": () => zoom(1), "=": () => zoom(1), "-": () => zoom(-1) }[e.key];
    if (does) {
      e.preventDefault();
      does();
    }
  });
})();
