// Keeps the page current without reloading it: at each event it fetches the
// page again and puts the parts marked data-live in place of the old ones. The
// page works without it.
"use strict";
(() => {
  const lost = document.getElementById("lost");

  // The server learns whose time to tell. Where it told another's, the page is
  // asked for again; whoever chose a zone in the settings keeps it.
  function tellZone() {
    const zone = Intl.DateTimeFormat().resolvedOptions().timeZone;
    if (!zone || document.cookie.includes("conditiond_zone=" + zone)) return false;
    document.cookie = "conditiond_zone=" + zone + "; path=/; max-age=34560000; samesite=lax";
    return document.cookie.includes("conditiond_zone=") && zone !== document.body.dataset.zone;
  }
  let running = false, again = false, losing = 0;

  // A page that no longer hears anything must not look calm.
  function hearing(yes) {
    if (yes) {
      clearTimeout(losing);
      losing = 0;
      lost.hidden = true;
    } else if (!losing) {
      losing = setTimeout(() => { lost.hidden = false; }, 5000);
    }
  }

  function replace(old, fresh) {
    if (old.innerHTML === fresh.innerHTML || old.querySelector(":active")) return; // what is just being pressed stays
    const focused = old.contains(document.activeElement) ? document.activeElement.id || document.activeElement.getAttribute("href") : "";
    const unfolded = [...old.querySelectorAll("details[open]")].map((d) => d.id);
    old.replaceChildren(...fresh.childNodes);
    unfolded.forEach((id) => { const d = document.getElementById(id); if (d) d.open = true; });
    if (!focused) return;
    const to = document.getElementById(focused) || [...old.querySelectorAll("a")].find((a) => a.getAttribute("href") === focused);
    if (to) to.focus({ preventScroll: true });
  }

  async function fetchAndSwap() {
    const answer = await fetch(location.href, { headers: { Accept: "text/html" }, signal: AbortSignal.timeout(15000) });
    if (answer.redirected) { location.reload(); return; } // logged out
    if (!answer.ok) throw new Error(String(answer.status));
    const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
    document.title = fresh.title;
    for (const old of document.querySelectorAll("[data-live]")) {
      const part = fresh.getElementById(old.id);
      if (part) replace(old, part);
    }
  }

  async function refresh() {
    if (document.hidden) return;
    if (running) { again = true; return; }
    running = true;
    try {
      await fetchAndSwap();
      hearing(true);
    } catch {
      hearing(false);
    }
    running = false;
    if (again) { again = false; refresh(); }
  }

  const zones = document.getElementById("zones");
  if (zones && Intl.supportedValuesOf) zones.append(...Intl.supportedValuesOf("timeZone").map((z) => new Option(z, z)));
  if (tellZone()) refresh();
  const events = new EventSource("/api/v1/events");
  events.addEventListener("change", refresh);
  events.addEventListener("error", () => hearing(false));
  document.addEventListener("visibilitychange", refresh);
  setInterval(refresh, 30000); // ages grow without events
})();
