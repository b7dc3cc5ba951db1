// Draws a lot's charts in place of the still ones: what was, with its band, and
// what is expected. The still ones stay for browsers that can't, and where the
// numbers don't come. Colours and words are the page's.
"use strict";
(() => {
  const charts = document.getElementById("charts"), drawn = document.getElementById("drawn"), still = document.getElementById("still");
  if (!charts || !charts.dataset.graph || !window.uPlot) return;
  const version = new URL(document.currentScript.src).search;
  let graph, plots = [], readout, slider, again = 0, zoomed = null;

  const colour = (name, alpha = "") => getComputedStyle(document.documentElement).getPropertyValue("--" + name).trim() + alpha;
  const number = (v, p) => v == null ? "–" : v.toFixed(p.decimals).replace("-", "−");

  // Lines of a panel joined on one axis of time: holes stay holes, and what one
  // line doesn't know of another's instants is passed over.
  function table(p) {
    const parts = [];
    if (p.past.t) parts.push([p.past.t, p.past.low || p.past.t.map(() => undefined), p.past.high || p.past.t.map(() => undefined), p.past.mid]);
    else parts.push([[graph.now], [undefined], [undefined], [undefined]]);
    parts.push(p.ahead.t ? [p.ahead.t, p.ahead.low, p.ahead.high, p.ahead.mid] : [[graph.now], [undefined], [undefined], [undefined]]);
    parts.push(p.readings.t ? [p.readings.t, p.readings.mid] : [[graph.now], [undefined]]);
    return uPlot.join(parts);
  }

  function series() {
    const accent = colour("accent"), none = { stroke: "transparent", width: 0, points: { show: false } };
    return [{}, { ...none }, { ...none },
      { stroke: accent, width: 2.2, points: { show: false } },
      { stroke: accent, width: 1, dash: [3, 4], points: { show: false } }, { stroke: accent, width: 1, dash: [3, 4], points: { show: false } },
      { stroke: accent, width: 2.2, dash: [9, 6], points: { show: false } },
      { stroke: accent, width: 1.2, dash: [2, 2], points: { show: false } }];
  }

  const pencil = (u) => {
    const c = u.ctx, r = uPlot.pxRatio;
    c.lineWidth = r;
    c.font = `${12 * r}px system-ui, sans-serif`;
    c.textAlign = "left";
    c.textBaseline = "alphabetic";
    return [c, r, u.bbox];
  };

  function upright(u, at, dash, tone, wide = 1) {
    const [c, r, b] = pencil(u), x = u.valToPos(at, "x", true);
    if (x < b.left || x > b.left + b.width) return null;
    c.strokeStyle = tone;
    c.lineWidth = wide * r;
    c.setLineDash(dash.map((d) => d * r));
    c.beginPath();
    c.moveTo(x, b.top);
    c.lineTo(x, b.top + b.height);
    c.stroke();
    c.setLineDash([]);
    return x;
  }

  function words(u, text, x, y) {
    const [c, r, b] = pencil(u);
    c.strokeStyle = colour("paper");
    c.lineWidth = 4 * r;
    c.lineJoin = "round";
    c.fillStyle = colour("ink");
    x = Math.max(b.left + 4 * r, Math.min(x, b.left + b.width - c.measureText(text).width - 4 * r));
    c.strokeText(text, x, y);
    c.fillText(text, x, y);
  }

  // The days in which it gets ready, hatched, behind everything.
  function ready(u) {
    if (!graph.ready) return;
    const [c, r, b] = pencil(u), left = b.left, right = b.left + b.width;
    const from = Math.max(left, u.valToPos(graph.ready.first, "x", true));
    const to = Math.min(right, Math.max(u.valToPos(graph.ready.last, "x", true), from + 2 * r));
    if (to <= left || from >= right) return;
    c.save();
    c.beginPath();
    c.rect(from, b.top, to - from, b.height);
    c.clip();
    c.fillStyle = colour("notice", "1a");
    c.fillRect(from, b.top, to - from, b.height);
    c.strokeStyle = colour("notice", "80");
    for (let x = from - b.height; x < to; x += 8 * r) {
      c.beginPath();
      c.moveTo(x, b.top + b.height);
      c.lineTo(x + b.height, b.top);
      c.stroke();
    }
    c.restore();
    if (graph.ready.middle >= graph.from) upright(u, graph.ready.middle, [], colour("notice"), 1.5);
  }

  function over(u, p, first) {
    const [c, r, b] = pencil(u);
    c.save();
    graph.events.forEach((e, i) => {
      const x = upright(u, e.at, e.kind === "alert" ? [6, 3] : [2, 4], e.grave ? colour("danger") : colour("soft"), e.grave ? 2 : 1);
      if (x !== null) words(u, String(i + 1), x + 3 * r, b.top + b.height - (5 + 13 * (i % 2)) * r);
    });
    const x = graph.to > graph.now ? upright(u, graph.now, [], colour("ink")) : null;
    if (x !== null && first) words(u, "now", x + 4 * r, b.top + b.height - 22 * r);
    for (const l of p.levels || []) {
      const y = u.valToPos(l.at, "y", true);
      pencil(u);
      c.strokeStyle = colour(l.limit ? "danger" : "ink");
      c.lineWidth = 2 * r;
      c.setLineDash((l.limit ? [12, 4] : [4, 4]).map((d) => d * r));
      c.beginPath();
      c.moveTo(b.left, y);
      c.lineTo(b.left + b.width, y);
      c.stroke();
      c.setLineDash([]);
      const close = !l.limit && p.levels.some((o) => o.limit && Math.abs(u.valToPos(o.at, "y", true) - y) < 18 * r);
      words(u, l.words, l.limit ? b.left : b.left + b.width, close ? y + 15 * r : y - 5 * r);
    }
    c.restore();
  }

  const tall = (i) => (i === 0 ? 260 : 170) + (window.innerWidth > 700 ? 60 : 0);
  const wide = () => Math.max(200, drawn.clientWidth);

  function plot(p, i, place) {
    const soft = colour("soft"), line = colour("line");
    const axis = { stroke: soft, font: "12px system-ui, sans-serif", grid: { stroke: line, width: 1 }, ticks: { stroke: line, width: 1 } };
    let tz;
    try { tz = graph.zone && graph.zone !== "Local" ? (uPlot.tzDate(new Date(), graph.zone), graph.zone) : ""; } catch { tz = ""; }
    return new uPlot({
      width: wide(), height: tall(i), legend: { show: false },
      tzDate: tz ? (s) => uPlot.tzDate(new Date(s * 1000), tz) : undefined,
      cursor: { sync: { key: "lot", setSeries: false }, drag: { x: true, y: false }, y: false, points: { show: false } },
      scales: { x: { range: () => zoomed || [graph.from, graph.to] }, y: { range: [p.low, p.high] } },
      axes: [{ ...axis, values: stamps }, { ...axis, size: 44, values: (u, v) => v.map((x) => String(+x.toFixed(3)).replace("-", "−")) }],
      series: series(),
      bands: [{ series: [2, 1], fill: colour("band", "47") }, { series: [5, 4], fill: colour("band", "24") }],
      hooks: {
        drawClear: [(u) => { if (i === 0) ready(u); }],
        draw: [(u) => over(u, p, i === 0)],
        setCursor: [(u) => { if (u === plots[0] && u.cursor.left >= 0 && u.cursor.event) pointed(u.posToVal(u.cursor.left, "x")); }],
        setSelect: [(u) => { if (u.select.width > 8) zoom([u.posToVal(u.select.left, "x"), u.posToVal(u.select.left + u.select.width, "x")]); }],
      },
    }, table(p), place);
  }

  // Days, or hours where it is short, in the reader's zone.
  function stamps(u, list, _axis, _space, step) {
    const how = step < 86400 ? { weekday: "short", hour: "2-digit", minute: "2-digit", hourCycle: "h23" } : { day: "numeric", month: "short" };
    return list.map((s) => told(s, how));
  }

  function told(s, how) {
    try { return new Date(s * 1000).toLocaleString("en-GB", { ...how, timeZone: graph.zone || undefined }); } catch { return new Date(s * 1000).toLocaleString("en-GB", how); }
  }

  function nearest(course, at, within) {
    let best = -1;
    (course.t || []).forEach((t, i) => {
      if (course.mid[i] != null && Math.abs(t - at) < (best < 0 ? within : Math.abs(course.t[best] - at))) best = i;
    });
    return best;
  }

  // What the charts say of an instant, in words.
  function sentence(at) {
    const within = (graph.to - graph.from) / 40 + 3600, expected = at - graph.now > (graph.to - graph.from) / 600; // the slider steps
    const parts = graph.panels.map((p) => {
      let c = expected ? p.ahead : p.past, i = nearest(c, at, within);
      if (i < 0 && !expected) { c = p.readings; i = nearest(c, at, within); }
      if (i < 0) return `${p.title.toLowerCase()} not known`;
      const band = c.low ? ` (${number(c.low[i], p)} to ${number(c.high[i], p)})` : "";
      return `${p.title.toLowerCase()} ${number(c.mid[i], p)} ${p.unit}${band}`;
    });
    return told(at, { weekday: "short", day: "numeric", month: "short", hour: "2-digit", minute: "2-digit", hourCycle: "h23" }) + (expected ? ", expected: " : ": ") + parts.join("; ").replace("co2", "CO2");
  }

  function pointed(at) {
    if (!Number.isFinite(at)) return;
    slider.value = String(Math.round(at));
    readout.textContent = sentence(at);
    slider.setAttribute("aria-valuetext", readout.textContent);
  }

  function slid() {
    const at = Number(slider.value);
    readout.textContent = sentence(at);
    slider.setAttribute("aria-valuetext", readout.textContent);
    for (const u of plots) u.setCursor({ left: u.valToPos(at, "x"), top: 10 }, false);
  }

  function zoom(to) {
    zoomed = to;
    for (const u of plots) {
      u.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
      u.setScale("x", { min: to ? to[0] : graph.from, max: to ? to[1] : graph.to });
    }
    document.getElementById("whole").hidden = !to;
  }

  function make(tag, attributes, text) {
    const e = document.createElement(tag);
    for (const [k, v] of Object.entries(attributes || {})) e.setAttribute(k, v);
    if (text) e.textContent = text;
    return e;
  }

  function draw() {
    const at = slider ? slider.value : graph.now, held = document.activeElement === slider && slider;
    plots.forEach((u) => u.destroy());
    drawn.replaceChildren();
    drawn.hidden = false;
    still.hidden = true;
    const captions = [...still.querySelectorAll("figcaption")], said = [...still.querySelectorAll("svg.panel")];
    readout = make("p", { id: "readout" });
    slider = make("input", { type: "range", id: "instant", min: graph.from, max: graph.to, step: Math.max(60, Math.round((graph.to - graph.from) / 400)), "aria-label": "Instant in the charts" });
    slider.addEventListener("input", slid);
    const whole = make("button", { id: "whole", type: "button", class: "quiet" }, "Show all of it");
    whole.hidden = !zoomed;
    whole.addEventListener("click", () => { zoom(null); slider.focus(); });
    plots = graph.panels.map((p, i) => {
      const figure = make("figure", { class: "chart" }), own = captions.find((c) => c.textContent.startsWith(p.title));
      const label = said.find((x) => (x.getAttribute("aria-label") || "").startsWith(p.title));
      figure.append(own ? own.cloneNode(true) : make("figcaption", {}, `${p.title}, ${p.unit}`));
      const place = make("div", { class: "plotted", role: "img", "aria-label": label ? label.getAttribute("aria-label") : p.title });
      figure.append(place);
      drawn.append(figure);
      if (i === 0) {
        const scrub = make("div", { class: "scrub" });
        scrub.append(readout, slider, whole);
        drawn.append(scrub);
      }
      return plot(p, i, place);
    });
    slider.value = String(at);
    requestAnimationFrame(slid); // when they are laid out
    if (held) slider.focus({ preventScroll: true });
  }

  async function fetchAndDraw() {
    again = 0;
    try {
      const answer = await fetch(charts.dataset.graph, { signal: AbortSignal.timeout(15000) });
      if (!answer.ok || answer.redirected) throw new Error(String(answer.status));
      const fresh = await answer.json();
      if (!fresh.panels || !fresh.panels.length) throw new Error("nothing to draw");
      fresh.events = fresh.events || [];
      graph = fresh;
      draw();
    } catch (e) {
      console.warn("the charts stay still:", e.message); // the page says itself when nobody answers
      if (!plots.length) { drawn.hidden = true; still.hidden = false; }
    }
  }

  const sheet = make("link", { rel: "stylesheet", href: "/static/uPlot.min.css" + version });
  sheet.addEventListener("load", fetchAndDraw);
  document.head.append(sheet);
  // The still charts are kept current by the page; when they change, so do ours,
  // at most once a minute.
  new MutationObserver(() => { if (!again) again = setTimeout(fetchAndDraw, 60000); }).observe(still, { childList: true });
  window.addEventListener("resize", () => plots.forEach((u, i) => u.setSize({ width: wide(), height: tall(i) })));
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => { if (graph) draw(); });
})();
