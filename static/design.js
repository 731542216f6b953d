/* The design screen's hands: taking hold of the picture, undo and redo, saving by itself.
   Everything here also exists as a field or a button: without this file the page works by its forms.
   While something is dragged it is drawn here; the server's answer, with counts and price, replaces the
   picture as it comes, at most every LOOK_MS. */
"use strict";

(() => {
  const LOOK_MS = 150, KEEP_MS = 1500, ANSWER_MS = 15000, SNAP_MS = 400, LEAVING_BYTES = 60000, INCH = 0.0254;
  const form = () => document.getElementById("design");
  const worked = () => document.getElementById("worked");
  const sheet = () => worked()?.querySelector("figure.picture svg");
  const named = (name) => form()?.elements.namedItem(name);

  // ---- lengths and places, as the studio writes them ----
  function say(metres) {
    const m = Math.max(0, metres);
    if (form().dataset.units !== "imperial") return `${m.toFixed(2)} m`;
    const inches = Math.round((m / INCH) * 2) / 2, feet = Math.floor(inches / 12), rest = inches - 12 * feet;
    if (!feet) return `${rest}"`;
    return rest ? `${feet}' ${rest}"` : `${feet}'`;
  }
  const sided = (m) => (Math.abs(m) < 0.005 ? "middle" : `${say(Math.abs(m))} ${m < 0 ? "left" : "right"}`);
  /** A place in the manner in which it was last written: by height, by share, or by length. */
  function place(before, spot) {
    if (/\b(left|right)\b/i.test(before)) return `${spot.x < spot.way.at ? "left" : "right"} ${say(spot.z)}`;
    if (/%|start|end/i.test(before)) return `${((100 * spot.s) / spot.way.length).toFixed(1)} %`;
    return `${say(spot.s)} along`;
  }

  // ---- the path that a handle runs on ----
  function wayOf(piece) {
    const line = sheet().querySelector(`polyline.way[data-piece="${piece}"]`);
    const points = line.getAttribute("points").split(" ").map((p) => p.split(",").map(Number));
    return { points, length: Number(line.dataset.length), at: Number(line.dataset.at), closed: !!line.dataset.closed };
  }
  function spotAt(way, s) {
    const u = Math.min(Math.max(s / way.length, 0), 1) * (way.points.length - 1);
    const i = Math.min(Math.floor(u), way.points.length - 2), t = u - i;
    const [a, b] = [way.points[i], way.points[i + 1]];
    const x = a[0] + t * (b[0] - a[0]), y = a[1] + t * (b[1] - a[1]);
    return { s: (way.length * u) / (way.points.length - 1), x: x / 100, z: -y / 100, cx: x, cy: y, way };
  }
  function nearest(way, x, y) {
    let best = Infinity, at = 0;
    for (let i = 0; i < way.points.length - 1; i++) {
      const [ax, ay] = way.points[i], [bx, by] = way.points[i + 1];
      const dx = bx - ax, dy = by - ay, long = dx * dx + dy * dy || 1e-9;
      const t = Math.min(Math.max(((x - ax) * dx + (y - ay) * dy) / long, 0), 1);
      const far = (x - ax - t * dx) ** 2 + (y - ay - t * dy) ** 2;
      if (far < best) { best = far; at = i + t; }
    }
    return spotAt(way, (way.length * at) / (way.points.length - 1));
  }

  // ---- taking hold ----
  let held = null;
  function take(handle, event) {
    const svg = sheet();
    held = { id: handle.id, box: svg.getAttribute("viewBox"), frame: 0, moved: false, looked: 0, ...handle.dataset };
    held.piece = Number(held.piece); held.index = Number(held.index);
    held.began = Number(handle.getAttribute("aria-valuenow"));
    if (event) held.from = onSheet(event);
    gather();
  }
  /** What is drawn here while it moves; collected anew whenever the server has drawn. */
  function gather() {
    const svg = sheet(), handle = document.getElementById(held.id);
    held.way = wayOf(held.piece);
    held.handle = handle;
    held.low = handle?.transform.baseVal[0]?.matrix.f ?? 0;
    held.group = svg.querySelector(`g[data-piece="${held.piece}"]`);
    held.balls = held.kind === "end"
      ? [...held.group.querySelectorAll(`circle[data-run="${held.run}"]`)].map((c) => [c, Number(c.dataset.s)]) : [];
    const ends = [...svg.querySelectorAll(`.handle[data-kind="end"][data-piece="${held.piece}"][data-run="${held.run}"]`)];
    held.ends = ends.map((h) => Number(h.getAttribute("aria-valuenow")));
    held.which = ends.findIndex((h) => h.id === held.id);
  }
  function onSheet(event) {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(sheet().getScreenCTM().inverse());
    return { x: at.x, y: at.y };
  }
  function moveTo(point) {
    if (held.kind === "piece" || held.kind === "edge") held.now = held.began + (point.x - held.from.x) / 100;
    else held.now = nearest(held.way, point.x, point.y).s;
    held.moved = true;
    write();
    if (!held.frame) held.frame = requestAnimationFrame(redraw);
    if (performance.now() - held.looked > LOOK_MS) { held.looked = performance.now(); look(); }
  }
  function redraw() {
    if (!held) return;
    held.frame = 0;
    const { handle, group } = held;
    if (!handle) return;
    if (held.kind === "piece") {
      const by = 100 * (held.now - Number(handle.getAttribute("aria-valuenow")));
      group.setAttribute("transform", `translate(${by.toFixed(1)} 0)`);
      handle.setAttribute("transform", `translate(${(100 * held.now).toFixed(1)} ${held.low})`);
    } else if (held.kind === "edge") {
      handle.setAttribute("transform", `translate(${(100 * (held.now + held.way.at)).toFixed(1)} -4)`);
    } else {
      const spot = spotAt(held.way, held.now);
      handle.setAttribute("transform", `translate(${spot.cx.toFixed(1)} ${spot.cy.toFixed(1)})`);
      if (held.kind === "end") cover();
    }
  }
  /** Balls beyond the end that is held are not drawn; those to come are shown as a line along the way. */
  function cover() {
    const [start, end] = held.which === 0 ? [held.now, held.ends[1]] : [held.ends[0], held.now];
    const inside = start <= end ? (s) => s >= start && s <= end : (s) => s >= start || s <= end;
    for (const [ball, s] of held.balls) ball.setAttribute("visibility", inside(s) ? "visible" : "hidden");
    const was = held.ends[held.which], steps = 24, d = [];
    for (let i = 0; i <= steps; i++) {
      const spot = spotAt(held.way, was + ((held.now - was) * i) / steps);
      d.push(`${spot.cx.toFixed(1)} ${spot.cy.toFixed(1)}`);
    }
    let ghost = sheet().querySelector(".ghost");
    if (!ghost) {
      ghost = document.createElementNS("http://www.w3.org/2000/svg", "path");
      ghost.setAttribute("class", "ghost");
      sheet().querySelector(".handles").prepend(ghost);
    }
    ghost.setAttribute("d", "M" + d.join("L"));
  }
  /** The fields say what the hand does. */
  function write() {
    const field = named(held.field);
    if (!field) return;
    if (held.kind === "piece") field.value = sided(held.now);
    else if (held.kind === "edge") writeEdge(field);
    else if (held.kind === "end") field.value = place(held.text ??= field.value, spotAt(held.way, held.now));
    else if (held.kind === "place") writePlace(field);
    else writeFeature(field);
  }
  function writeEdge(field) {
    const edges = [...sheet().querySelectorAll(`.handle[data-kind="edge"][data-field="${held.field}"]`)];
    held.other ??= Number(edges.find((h) => Number(h.dataset.index) !== held.index).getAttribute("aria-valuenow"));
    field.value = say(Math.max(Math.abs(held.now - held.other), 0.05));
    const centre = named(held.centre);
    if (centre) centre.value = sided((held.now + held.other) / 2);
  }
  function writePlace(field) {
    let seen = 0;
    held.text ??= field.value;
    field.value = held.text.replace(/ at ([^;]+)/g, (_, places) => " at " + places.split(/,\s+/).map((p) =>
      seen++ === held.index ? place(p, spotAt(held.way, held.now)) : p).join(", "));
  }
  function writeFeature(field) {
    const all = [...sheet().querySelectorAll(`.handle[data-kind="feature"][data-field="${held.field}"]`)];
    held.places ??= all.map((h) => Number(h.getAttribute("aria-valuenow")));
    held.places[held.index] = held.now;
    field.value = held.places.map((s) => `${say(Math.min(s, held.way.length))} along`).join(", ");
  }
  function letGo() {
    if (!held) return;
    const { field, moved } = held;
    held = null;
    sheet()?.querySelector(".ghost")?.remove();
    if (moved) named(field)?.dispatchEvent(new Event("change", { bubbles: true }));
  }
  const look = () => form()?.dispatchEvent(new CustomEvent("look"));

  document.addEventListener("pointerdown", (event) => {
    const handle = event.target.closest?.(".handle");
    if (!handle || event.button) return;
    event.preventDefault();
    handle.focus({ preventScroll: true });
    take(handle, event);
  });
  window.addEventListener("pointermove", (event) => { if (held?.from) { event.preventDefault(); moveTo(onSheet(event)); } });
  window.addEventListener("pointerup", letGo);
  window.addEventListener("pointercancel", letGo);
  // A thumb that drags a handle does not scroll the page.
  document.addEventListener("touchstart", (event) => {
    if (event.target.closest?.(".handle")) event.preventDefault();
  }, { passive: false });

  const STEPS = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, PageDown: -10, PageUp: 10 };
  document.addEventListener("keydown", (event) => {
    const handle = event.target.closest?.(".handle");
    if (!handle || !(event.key in STEPS)) return;
    event.preventDefault();
    const step = form().dataset.units === "imperial" ? INCH : 0.02;
    take(handle);
    const along = held.kind !== "piece" && held.kind !== "edge";
    let now = held.began + STEPS[event.key] * step * (event.shiftKey ? 10 : 1);
    if (along) now = held.way.closed ? (now + held.way.length) % held.way.length : Math.min(Math.max(now, 0), held.way.length);
    held.now = now;
    held.moved = true;
    write();
    redraw();
    handle.setAttribute("aria-valuenow", now.toFixed(3));
    letGo();
  });

  document.addEventListener("htmx:afterSwap", (event) => {
    if (event.target.id !== "worked") return;
    fold();
    if (!held || !sheet()) return;
    sheet().setAttribute("viewBox", held.box); // the sheet stays under the hand until it lets go
    gather();
    redraw();
  });

  // ---- undo and redo: whole states of the form ----
  let states = [], now = -1, snapping = 0;
  const state = () => {
    const data = new FormData(form());
    for (const name of ["version", "hand", "step", "csrfmiddlewaretoken"]) data.delete(name);
    return JSON.stringify([...data.entries()]);
  };
  function snap() {
    if (!form()) return;
    clearTimeout(snapping);
    const current = state();
    if (states[now] !== current) {
      states = [...states.slice(Math.max(0, now - 60), now + 1), current];
      now = states.length - 1;
    }
    tell();
  }
  /** Something was typed: a state is taken when the hand rests; it can be undone at once. */
  function snapSoon() {
    clearTimeout(snapping);
    snapping = setTimeout(snap, SNAP_MS);
    tell(states[now] !== state());
  }
  function tell(typed = false) {
    const [undo, redo] = ["undo", "redo"].map((id) => document.getElementById(id));
    if (!undo) return;
    undo.hidden = redo.hidden = false;
    undo.disabled = now <= 0 && !typed;
    redo.disabled = typed || now >= states.length - 1;
  }
  async function go(by) {
    snap();
    if (!(now + by in states)) return;
    now += by;
    const values = Object.fromEntries(JSON.parse(states[now]));
    Object.assign(values, { version: named("version").value, hand, do: "lay-out" });
    const focused = document.activeElement?.id;
    await window.htmx.ajax("POST", form().getAttribute("action"), { target: "#sheet", swap: "innerHTML", values });
    document.getElementById(focused)?.focus();
    tell();
    keepSoon();
  }
  document.addEventListener("click", (event) => {
    if (event.target.id === "undo") go(-1);
    if (event.target.id === "redo") go(1);
  });
  document.addEventListener("keydown", (event) => {
    const typing = event.target.matches?.("input:not([type=checkbox]), textarea, select");
    if (!form() || typing || !(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z") return;
    event.preventDefault();
    go(event.shiftKey ? 1 : -1);
  });

  // ---- saving by itself: one save under way at a time ----
  // A page says who it is and counts its saves, so that what it saved before is no clash where an answer was lost.
  const hand = [...crypto.getRandomValues(new Uint8Array(12))].map((b) => b.toString(16).padStart(2, "0")).join("");
  let step = 0, keeping = 0, sending = false, again = false, halted = false, misses = 0, unkept = false, unread = false;
  function keepSoon(after = KEEP_MS) {
    clearTimeout(keeping);
    unkept = true;
    if (!halted && form()?.dataset.keeps) keeping = setTimeout(keep, after);
  }
  async function keep() {
    if (sending) { again = true; return; }
    if (held || !form()) return keepSoon();
    const body = typing();
    sending = true;
    again = unkept = false;
    const answer = await sent(body);
    sending = false;
    hear(answer);
    if (again) keepSoon();
  }
  function typing() {
    const body = new URLSearchParams(new FormData(form()));
    body.set("do", "keep");
    body.set("hand", hand);
    body.set("step", ++step);
    return body;
  }
  /** Status and text of the answer; null where none came. */
  async function sent(body) {
    try {
      const signal = AbortSignal.timeout(ANSWER_MS);
      const headers = { "HX-Request": "true" };
      const keepalive = body.toString().length < LEAVING_BYTES; // it is sent to its end though the page is left
      const answer = await fetch(form().getAttribute("action"), { method: "POST", body, headers, signal, keepalive });
      return { status: answer.redirected ? 401 : answer.status, text: await answer.text() };
    } catch { return null; }
  }
  function hear(answer) {
    const said = document.getElementById("kept");
    if (!said || !form()) return;
    if (answer && [200, 409, 422].includes(answer.status)) {
      misses = 0;
      said.innerHTML = answer.text;
      const version = said.querySelector("[data-version]")?.dataset.version;
      if (answer.status === 200 && version) named("version").value = version;
      halted = answer.status === 409;
      unread = answer.status === 422;
      unkept ||= answer.status !== 200;
      return;
    }
    misses += 1;
    said.textContent = !answer || answer.status >= 500
      ? "Not saved yet: no answer came. Trying again."
      : "Not saved: you may be signed out. Reload the page to see what is kept.";
    keepSoon(Math.min(KEEP_MS * 2 ** misses, 30000));
  }
  function typed(event) {
    if (!event.target.form || event.target.form !== form()) return;
    snapSoon();
    keepSoon();
  }
  document.addEventListener("input", typed);
  document.addEventListener("change", typed);
  /** Whoever goes away in the middle of a pause loses nothing: it is sent at once, or asked about. */
  const canSave = () => form()?.querySelector("[name=do][value=save]");
  const keepsItself = () => !halted && !unread && form().dataset.keeps && typing().toString().length < LEAVING_BYTES;
  function leave() {
    if (!unkept || !canSave() || !keepsItself()) return;
    clearTimeout(keeping);
    unkept = false;
    sent(typing());
  }
  window.addEventListener("pagehide", leave);
  document.addEventListener("visibilitychange", () => { if (document.hidden && unkept) { clearTimeout(keeping); keep(); } });
  window.addEventListener("beforeunload", (event) => { if (unkept && canSave() && !keepsItself()) event.preventDefault(); });
  document.addEventListener("submit", (event) => {
    clearTimeout(keeping);
    if (event.target !== form()) return;
    unkept = false;
    named("hand").value = hand;
    named("step").value = ++step;
  });

  // ---- what cannot be read is said beside its field as well ----
  function beside() {
    for (const list of form()?.querySelectorAll(".field .errors") ?? []) {
      const field = list.closest(".field"), control = field.querySelector(`[aria-describedby~="${list.id}"]`);
      list.remove();
      field.classList.remove("wrong");
      control?.removeAttribute("aria-invalid");
      control?.setAttribute("aria-describedby", others(control, list.id));
    }
    for (const link of document.querySelectorAll('#unread a[href^="#"]')) sayBeside(link);
  }
  function sayBeside(link) {
    const control = document.getElementById(link.hash.slice(1)), field = control?.closest(".field");
    if (!field) return;
    let list = field.querySelector(".errors");
    if (!list) {
      list = document.createElement("ul");
      list.className = "errors";
      list.id = `${control.id}_error`;
      field.append(list);
    }
    const item = document.createElement("li");
    item.textContent = link.textContent;
    list.append(item);
    field.classList.add("wrong");
    control.setAttribute("aria-invalid", "true");
    control.setAttribute("aria-describedby", `${others(control, list.id)} ${list.id}`.trim());
  }
  const others = (control, id) =>
    (control.getAttribute("aria-describedby") ?? "").split(/\s+/).filter((one) => one && one !== id).join(" ");
  document.addEventListener("htmx:afterSwap", (event) => {
    if (["worked", "unread"].includes(event.target.id)) beside();
  });

  // ---- a shade of the studio's own fills in how it looks ----
  document.addEventListener("input", (event) => {
    const name = event.target.name ?? "";
    if (!/^palette-\d+-name$/.test(name)) return;
    const shade = [...document.querySelectorAll("#shades option")].find((o) => o.value === event.target.value);
    if (!shade) return;
    named(name.replace(/name$/, "hex")).value = shade.dataset.hex;
    named(name.replace(/name$/, "finish")).value = shade.dataset.finish;
  });

  // ---- on a small screen the tables stay folded ----
  let unfolded = window.matchMedia("(min-width: 68rem)").matches;
  function fold() {
    const counts = document.getElementById("counts");
    if (counts) counts.open = unfolded;
  }
  document.addEventListener("toggle", (event) => {
    if (event.target.id === "counts") unfolded = event.target.open;
  }, true);

  /** An answer to a form that was laid out anew in the meantime is let go. */
  function watch() {
    form()?.addEventListener("htmx:beforeOnLoad", (event) => {
      if (!event.currentTarget.isConnected) event.preventDefault();
    });
  }
  function begin() { fold(); watch(); snap(); }
  document.addEventListener("htmx:afterSettle", (event) => { if (event.target.id === "sheet") begin(); });
  begin();
  if (form()?.dataset.fresh) keepSoon(0);
})();
