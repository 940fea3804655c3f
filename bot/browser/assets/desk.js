// Everything on the desk's pages works without this script. With it, pages follow what others do without a reload:
// the page is fetched again and only the parts whose revision changed are put in, so half-typed answers stay.
"use strict";
(() => {
  const main = document.querySelector("main[data-events]");
  if (!main) return;
  const news = document.getElementById("news");
  const here = location.pathname;

  const say = (text, href) => {
    news.textContent = "";
    if (href) {
      const a = document.createElement("a");
      a.href = href;
      a.textContent = text;
      news.append(a);
    } else {
      news.textContent = text;
    }
    news.classList.add("shown");
    clearTimeout(say.timer);
    say.timer = setTimeout(() => news.classList.remove("shown"), 6000);
  };

  // touched: the person has typed or chosen something else in it than the page came with.
  const touched = (el) => {
    if (el.type === "checkbox") return el.checked !== el.defaultChecked;
    if (el.tagName === "SELECT") return el.value !== ([...el.options].find((o) => o.defaultSelected) || el.options[0])?.value;
    return (el.type === "text" || el.tagName === "TEXTAREA") && el.value !== el.defaultValue;
  };

  // carry copies what was typed into old over to its successor, unless old was the form just sent.
  const carry = (old, next) => {
    if (old.dataset.rev === "sent") return;
    if (old.tagName === "DETAILS" && old.open) next.open = true;
    for (const box of old.querySelectorAll("details[open]")) {
      const to = [...next.querySelectorAll("details")].find((x) => x.dataset.menu === box.dataset.menu);
      if (to) to.open = true;
    }
    for (const from of old.querySelectorAll("input[type=text], textarea, select, input[type=checkbox]")) {
      if (!touched(from)) continue;
      const same = [...next.querySelectorAll(from.tagName)].filter((x) => x.name === from.name);
      if (from.type === "checkbox") {
        const to = same.find((x) => x.value === from.value);
        if (to) to.checked = from.checked;
      } else if (same.length === 1) {
        if (from.tagName !== "SELECT" || [...same[0].options].some((o) => o.value === from.value)) same[0].value = from.value;
      }
    }
  };

  // keep tells with an act what was typed or chosen elsewhere on the page, so that it is still there wherever the act leads.
  const keep = (body, sent) => {
    for (const form of document.querySelectorAll("form[data-keep]")) {
      if (form === sent || ![...form.elements].some(touched)) continue;
      const fields = new URLSearchParams();
      for (const [name, value] of new FormData(form)) if (typeof value === "string") fields.append(name, value);
      body.append("keep", form.dataset.keep + "\n" + fields);
    }
  };

  const renew = (page) => {
    let fresh = null;
    for (const box of document.querySelectorAll("[data-live]")) {
      const next = page.getElementById(box.id);
      if (!next) continue;
      const active = document.activeElement;
      const wanted = [...next.children];
      const ids = new Set(wanted.map((e) => e.id));
      for (const old of [...box.children]) if (!ids.has(old.id)) old.remove();
      let at = box.firstElementChild;
      for (const el of wanted) {
        const old = document.getElementById(el.id);
        if (!old) {
          if (box.hasAttribute("data-news") && !el.classList.contains("own")) fresh = el;
          box.insertBefore(document.adoptNode(el), at);
          continue;
        }
        let kept = old;
        if (old.dataset.rev !== el.dataset.rev) {
          kept = document.adoptNode(el);
          carry(old, kept);
          const focus = old.contains(active) && active.id;
          if (at === old) at = kept;
          old.replaceWith(kept);
          if (focus) document.getElementById(focus)?.focus({ preventScroll: true });
        }
        if (kept !== at) box.insertBefore(kept, at);
        else at = at.nextElementSibling;
      }
    }
    if (fresh) say("New message", "#" + fresh.id);
  };

  let running = null, again = false;
  const refresh = () => {
    if (running) {
      again = true;
      return running;
    }
    running = (async () => {
      do {
        again = false;
        const res = await fetch(here + location.search, { headers: { "X-Desk": "live" } });
        if (res.ok && !res.redirected) renew(new DOMParser().parseFromString(await res.text(), "text/html"));
      } while (again);
    })().catch(() => {}).finally(() => { running = null; });
    return running;
  };

  // Browsers allow few open streams for one host, so only pages in view ask for one, and the desk gives few to one browser.
  // A page without one looks every few seconds, and asks again then.
  const lookEvery = 4000;
  let stream = null, later = 0;
  const follow = () => {
    clearTimeout(later);
    if (document.hidden) {
      stream?.close();
      stream = null;
    } else if (!stream) {
      stream = new EventSource(main.dataset.events);
      stream.addEventListener("open", refresh);
      stream.addEventListener("changed", refresh);
      stream.addEventListener("error", () => {
        if (stream?.readyState !== EventSource.CLOSED) return; // else the browser tries again by itself
        stream = null;
        refresh();
        later = setTimeout(follow, lookEvery);
      });
    }
  };
  document.addEventListener("visibilitychange", follow);
  // A page that says how long something still takes is fetched again as time passes.
  if (main.dataset.every) setInterval(() => { if (!document.hidden) refresh(); }, main.dataset.every * 1000);
  follow();

  const show = (hash) => {
    const el = hash && document.getElementById(hash);
    if (!el) return;
    if (el.tagName === "DETAILS") el.open = true;
    el.scrollIntoView({ block: "start" });
    const target = el.querySelector("[aria-invalid]") ||
      el.querySelector(".ask input:not([type=hidden]), .ask textarea, .ask select") || el;
    target.focus({ preventScroll: target === el });
  };

  document.addEventListener("submit", async (e) => {
    const form = e.target;
    if (!form.action.endsWith("/act") && !form.action.endsWith("/dismiss")) return;
    e.preventDefault();
    if (form.getAttribute("aria-busy") === "true") return;
    for (const input of form.querySelectorAll("input[type=file]")) {
      const big = [...input.files].find((f) => f.size > 8 << 20);
      if (big) {
        say(big.name + " is bigger than 8 MB; choose a smaller one.");
        input.focus();
        return;
      }
    }
    form.setAttribute("aria-busy", "true");
    try {
      const body = form.enctype === "multipart/form-data" ? new FormData(form) : new URLSearchParams(new FormData(form));
      if (e.submitter?.name) body.append(e.submitter.name, e.submitter.value);
      keep(body, form);
      const res = await fetch(form.action, { method: "POST", body, headers: { "X-Desk": "follow" } });
      const text = await res.text();
      if (!res.ok) {
        const page = new DOMParser().parseFromString(text, "text/html");
        say(page.getElementById("problem")?.textContent || "That didn't go; try again.");
        return;
      }
      const to = new URL(text, location.href);
      if (to.origin !== location.origin) return;
      if (to.pathname !== here) {
        location.assign(to);
        return;
      }
      const part = form.closest("[data-rev]");
      if (part) part.dataset.rev = "sent";
      again = true;
      await refresh();
      if (to.hash) show(to.hash.slice(1));
      else if (part?.id) document.getElementById(part.id)?.focus({ preventScroll: true });
    } catch {
      say("The desk can't be reached; what you typed is still here. Try again in a moment.");
    } finally {
      form.removeAttribute("aria-busy");
    }
  });

  if (location.hash) show(location.hash.slice(1));
  else if (main.querySelectorAll("#posts > li").length > 3) main.querySelector("#posts > li:last-child").scrollIntoView({ block: "center" });
})();
