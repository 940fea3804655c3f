// The page works without this script. With it, a length is read while it is typed, and what is wrong is said beside it at once.
"use strict";
(() => {
  const later = new WeakMap();
  const read = async (input) => {
    const form = input.closest("form[data-check]");
    const says = document.getElementById(input.id + "-says");
    if (!form || !says) return;
    const typed = input.value.trim();
    if (!typed) {
      says.textContent = "";
      input.removeAttribute("aria-invalid");
      return;
    }
    const unit = form.elements["unit." + input.name.slice(2)]?.value || "cm";
    const q = new URLSearchParams({ key: input.dataset.key, typed, unit });
    try {
      const res = await fetch(form.dataset.check + "?" + q);
      if (!res.ok || input.value.trim() !== typed) return;
      const is = await res.json();
      says.textContent = "";
      const word = document.createElement("span");
      word.className = is.good ? "read" : "wrong";
      word.textContent = is.says;
      says.append(word);
      if (is.good) input.removeAttribute("aria-invalid");
      else input.setAttribute("aria-invalid", "true");
      input.closest("li")?.classList.toggle("bad", !is.good);
    } catch {
      // It is checked when it is sent.
    }
  };
  const of = (el) => el.matches?.("input[data-key]") ? el : el.matches?.('select[name^="unit."]') ? el.closest(".length")?.querySelector("input[data-key]") : null;
  document.addEventListener("input", (e) => {
    const input = of(e.target);
    if (!input) return;
    clearTimeout(later.get(input));
    later.set(input, setTimeout(() => read(input), 350));
  });
})();
