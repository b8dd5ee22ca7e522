// The view of one sheet: the picture, and beside it what is chosen, the order, the program, the playback.
import { button, clear, el } from "./dom.js";
import { edit, failed, figuresWords, listed, page, take, told, working } from "./main.js";
import { get, job, post } from "./net.js";
import { SheetView } from "./sheet.js";
import { clock, gasWords, number, t } from "./texts.js";

const TOOLS = ["select", "measure", "start", "tab", "noTab", "keepOff"];
const PANELS = ["part", "cutOrder", "program", "playback", "findings"];

export class BenchView {
  constructor(main, name) {
    this.name = name;
    this.panel = page.panel || "part";
    this.canvas = el("canvas", { tabindex: 0, class: "plate", role: "application" });
    this.view = new SheetView(this.canvas, this.does());
    this.tabs = el("nav", { class: "sheets", "aria-label": t("sheets") });
    this.tools = el("div", { class: "tools", role: "toolbar", "aria-label": t("tools") });
    this.facts = el("div", { class: "facts", role: "status" });
    this.side = el("div", { class: "body" });
    this.panels = el("div", { class: "panels", role: "tablist" });
    this.hint = el("div", { class: "hint" });
    this.picture = el("div", { class: "picture" }, this.canvas, this.hint);
    clear(main, el("section", { class: "bench" }, this.tabs, this.tools,
      this.picture, this.facts, el("aside", {}, this.panels, this.side)));
    this.put();
  }

  close() { this.view.close(); }

  get sheet() { return page.plan.sheets.find((s) => s.name === this.name) || page.plan.sheets[0]; }

  // Shows the plan as it is now.
  put() {
    const { sheet } = this;
    if (this.name !== sheet.name) this.name = sheet.name;
    this.view.set(page.plan, sheet);
    this.canvas.setAttribute("aria-label", t("sheetOf", sheet));
    clear(this.tabs, page.plan.sheets.map((s) => el("a", { href: `#/${encodeURIComponent(page.name)}/sheet/${encodeURIComponent(s.name)}`, "aria-current": s.name === this.name ? "page" : null, text: s.name })));
    this.putTools();
    this.putFacts();
    this.putPanel();
  }

  putTools() {
    const tool = (name) => button(t(name), () => this.use(name), { "aria-pressed": String(this.view.tool === name), class: `tool ${name}` });
    const shows = ["names", "cuts", "order", "heat"].map((name) => el("label", {}, el("input", { type: "checkbox", checked: this.view.show[name], onchange: (e) => { this.view.show[name] = e.target.checked; this.view.redraw(); if (name === "heat" && e.target.checked) told(t("heatSay")); } }), t(name)));
    clear(this.tools, TOOLS.map(tool), el("span", { class: "gap" }), button("+", () => this.view.zoom(1.25), { "aria-label": t("zoomIn"), title: t("zoomIn") }), button("−", () => this.view.zoom(0.8), { "aria-label": t("zoomOut"), title: t("zoomOut") }),
      button(t("fit"), () => this.view.fit()), el("span", { class: "gap" }), shows, el("span", { class: "gap" }),
      button(t("improveNest"), () => this.improve("nest"), { class: "improve-nest" }), button(t("improveOrder"), () => this.improve("order"), { class: "improve-order" }));
  }

  use(name) {
    this.view.tool = name;
    this.view.leave();
    this.swap = null;
    this.putTools();
    const hints = { select: "moveHint", measure: "measurePick", start: "startPick", tab: "tabPick", noTab: "noTabPick", keepOff: "keepOffPick" };
    this.hint.textContent = t(hints[name]);
  }

  putFacts() {
    const f = this.sheet.figures, fact = (name, value) => el("span", { class: "fact" }, el("i", { text: name }), el("b", { text: value }));
    clear(this.facts, el("span", { class: "fact proof" }, el("b", { text: f.passed ? "✓ " + t("proved") : "✕ " + t("notProved") })), fact(t("error"), `${number(f.error_mm, 3)} mm`), fact(t("time"), clock(f.time_s)),
      fact(t("gas"), gasWords(f.gas_m3)), fact(t("cost"), f.cost === null ? t("noCost") : `${number(f.cost, 2)} ${f.currency}`), fact(t("used"), `${number(100 * f.used, 1)} %`), fact(t("startsCount"), number(f.starts)), fact(t("travel"), clock(f.travel_s)),
      f.hottest_c === null ? null : fact(t("heat"), t("hot", { c: f.hottest_c })));
  }

  does() {
    return {
      choose: () => this.putPanel(),
      said: (words) => { this.hint.textContent = words; },
      refused: (words) => told(words, true),
      move: (held, sheet) => edit({ do: "move", part: held.part, copy: held.copy, at: [held.pose.x, held.pose.y], sheet, rotation_deg: held.pose.turn, mirrored: held.pose.mirrored }),
      keepOff: ([a, b]) => edit({ do: "keep off", sheet: this.name, corners: [[Math.min(a[0], b[0]), Math.min(a[1], b[1])], [Math.max(a[0], b[0]), Math.min(a[1], b[1])], [Math.max(a[0], b[0]), Math.max(a[1], b[1])], [Math.min(a[0], b[0]), Math.max(a[1], b[1])]], height_mm: 0 }),
      mark: (tool, row, near) => {
        const [part, copy] = this.sheet.placements[row];
        if (tool === "start") edit({ do: "start", part, copy, contour: near.contour, at: near.at });
        else edit({ do: tool === "tab" ? "tab" : "no tab", part, copy, at: near.at });
      },
      picked: (row) => {
        if (!this.swap) return false;
        const [part, copy] = this.swap, other = this.sheet.placements[row];
        this.swap = null;
        edit({ do: "swap", part, copy, with_part: other[0], with_copy: other[1] });
        return true;
      },
      cut: (n) => this.light(n),
      key: (e) => {
        const act = { r: () => this.turn(1), R: () => this.turn(-1), m: () => this.onPart({ do: "mirror" }), p: () => this.pin(), Delete: () => this.onPart({ do: "take off" }) }[e.key];
        if (act && !e.ctrlKey && !e.metaKey) { e.preventDefault(); act(); }
      },
    };
  }

  get chosen() { return this.view.chosen === null ? null : this.sheet.placements[this.view.chosen]; }

  onPart(data) {
    const p = this.chosen;
    if (p) edit({ ...data, part: p[0], copy: p[1] });
  }

  pin() { this.onPart({ do: "pin", pinned: !this.chosen[6] }); }

  turn(way) {
    const p = this.chosen;
    if (!p) return;
    const allowed = page.plan.parts[p[0]].rotations;
    const sorted = allowed ? [...allowed].sort((a, b) => a - b) : null;
    const here = sorted ? sorted.findIndex((a) => Math.abs(a - p[4]) < 1e-6) : 0;
    const next = sorted ? sorted[(here + way + sorted.length) % sorted.length] : p[4] + 15 * way;
    this.onPart({ do: "turn", by_deg: ((next - p[4] + 540) % 360) - 180 || 360 });
  }

  putPanel() {
    if (this.frame) { this.frame.remove(); this.frame = null; }
    clear(this.panels, PANELS.map((name) => button(t(name), () => { this.panel = page.panel = name; this.putPanel(); }, { role: "tab", "aria-selected": String(name === this.panel), class: `panel-${name}` })));
    const made = { part: () => this.partPanel(), cutOrder: () => this.orderPanel(), program: () => this.programPanel(), playback: () => this.playbackPanel(), findings: () => this.findingsPanel() }[this.panel]();
    if (made) clear(this.side, made);
  }

  partPanel() {
    const { sheet } = this, p = this.chosen;
    const list = el("select", { class: "pick", "aria-label": t("pick"), onchange: () => this.view.choose(list.value === "" ? null : Number(list.value)) },
      el("option", { value: "", text: t("pick") }), sheet.placements.map((q, row) => el("option", { value: String(row), selected: row === this.view.chosen, text: t("copyOf", { part: q[0], copy: q[1] }) + (q[6] ? " ▣" : "") })));
    const offs = Object.entries(page.plan.off).filter(([part]) => page.plan.parts[part].bench === sheet.bench);
    return [list, p ? this.chosenPart(p) : el("p", { class: "none", text: t("nothingChosen") }),
      el("h2", { text: t("off") }), offs.length ? el("ul", { class: "off" }, offs.map(([part, copies]) => el("li", {}, `${part} × ${copies.length} `, button(t("lay"), () => this.layNew(part, copies[0]), { class: "lay", "aria-label": `${t("lay")} ${part}` })))) : el("p", { class: "none", text: t("allPlaced") }),
      this.dataBox(sheet)];
  }

  chosenPart(p) {
    const part = page.plan.parts[p[0]], wanted = el("input", { type: "number", min: 0, value: page.plan.wanted[p[0]], class: "wanted", onchange: () => edit({ do: "quantity", part: p[0], quantity: Number(wanted.value) }) });
    const names = page.plan.sheets.filter((s) => s.bench === this.sheet.bench && s.name !== this.name).map((s) => s.name);
    const to = names.length ? el("select", { "aria-label": t("toSheet"), onchange: () => this.layOn(to.value, p) }, el("option", { value: "", text: t("toSheet") + " …" }), names.map((n) => el("option", { value: n, text: n }))) : null;
    return el("section", { class: "chosen" }, el("h2", { text: t("copyOf", { part: p[0], copy: p[1] }) + (p[6] ? ` (${t("pinned")})` : "") }),
      el("p", { class: "none", text: `${t("places", { x: number(p[2], 2), y: number(p[3], 2) })}, ${number(p[4], 1)}°` }),
      el("div", { class: "row" }, button(t("turn"), () => this.turn(1), { title: "R", class: "do-turn" }), button(t("turnBack"), () => this.turn(-1), { title: "Shift R" }),
        button(t("mirror"), () => this.onPart({ do: "mirror" }), { title: "M", disabled: !part.mirror }), button(p[6] ? t("letGo") : t("pin"), () => this.pin(), { title: "P", class: "do-pin" }),
        button(t("takeOff"), () => this.onPart({ do: "take off" }), { title: "Del", class: "do-off" }), button(t("swapWith"), () => { this.swap = [p[0], p[1]]; this.hint.textContent = t("swapPick"); }, { class: "do-swap" }), to),
      el("p", {}, el("label", {}, t("quantity") + " ", wanted)));
  }

  dataBox(sheet) {
    const setting = el("input", { value: sheet.setting, "aria-label": t("setting") }), process = el("select", { "aria-label": t("process") }, ["plasma", "oxyfuel"].map((x) => el("option", { value: x, text: x, selected: x === sheet.process })));
    const words = page.plan.benches[sheet.bench].words, [, thickness, grade] = words.match(/^(\S+) mm (.*)$/);
    return el("details", {}, el("summary", { text: t("data") }), el("p", { text: t("dataSay", { words }) }), el("div", { class: "row" }, process, setting, button(t("use"), () => edit({ do: "cutting data", thickness_mm: Number(thickness), grade, process: process.value, setting: setting.value }))));
  }

  layNew(part, copy) {
    const seat = page.plan.parts[part].seat, rotations = page.plan.parts[part].rotations;
    this.use("select");
    const box = this.canvas.getBoundingClientRect(), middle = this.view.place({ clientX: box.left + box.width / 2, clientY: box.top + box.height / 2 });
    this.view.hold(part, copy, { x: middle[0] - seat[0], y: middle[1] - seat[1], turn: rotations ? rotations[0] : 0, mirrored: false }, null, true);
    this.view.held.grip = seat;
    this.view.bring(middle[0] - seat[0], middle[1] - seat[1]);
    this.hint.textContent = t("layPick");
    this.canvas.focus();
  }

  layOn(name, p) {
    if (!name) return;
    this.name = name;
    history.replaceState(null, "", `#/${encodeURIComponent(page.name)}/sheet/${encodeURIComponent(name)}`);
    this.put();
    this.layNew(p[0], p[1]);
    this.view.held.pose.turn = p[4];
  }

  light(n) {
    this.lit = n;
    this.view.light(n);
    if (this.panel === "program" || this.panel === "cutOrder") this.putPanel(); else { const c = this.sheet.cuts[n - 1]; told(`${n}: ${this.cutWords(c)}, ${t("hot", { c: c.heat })}`); }
  }

  cutWords(c) { return c.makes.length ? c.makes.map((m) => `${m[0]} ${m[1]}: ${m[2]}`).join(", ") : c.kind; }

  orderPanel() {
    const { sheet } = this, cuts = sheet.cuts;
    const list = el("select", { size: 16, class: "order", "aria-label": t("cutOrder"), onchange: () => { if (this.first) { this.before(cuts[list.selectedIndex]); return; } this.lit = list.selectedIndex + 1; this.view.light(this.lit); },
      onkeydown: (e) => { if (e.altKey && e.key === "ArrowUp") { e.preventDefault(); this.shift(-1); } if (e.altKey && e.key === "ArrowDown") { e.preventDefault(); this.shift(1); } } },
      cuts.map((c, i) => el("option", { selected: this.lit === i + 1, text: `${i + 1}  ${this.cutWords(c)}` })));
    return [el("div", { class: "row" }, button(t("earlier"), () => this.shift(-1), { class: "earlier", title: "Alt ↑" }), button(t("later"), () => this.shift(1), { class: "later", title: "Alt ↓" }),
      button(t("beforeThat"), () => { const c = cuts[(this.lit || 0) - 1]; if (c) { this.first = c; this.hint.textContent = t("beforePick"); } }, { class: "before" }),
      button(t("freeOrder"), () => edit({ do: "order", sheet: this.name, cuts: [] }), { disabled: !sheet.held })),
    sheet.held ? el("p", { class: "none", text: t("orderHeld") }) : null, list];
  }

  before(then) {
    const name = (c) => ({ part: c.key[0], copy: c.key[1], contour: c.key[2] }), first = this.first;
    this.first = null;
    edit({ do: "before", first: name(first), then: name(then) });
  }

  shift(by) {
    const at = (this.lit || 0) - 1, to = at + by, keys = this.sheet.cuts.map((c) => c.key);
    if (at < 0 || to < 0 || to >= keys.length) return;
    [keys[at], keys[to]] = [keys[to], keys[at]];
    this.lit = to + 1;
    edit({ do: "order", sheet: this.name, cuts: keys }).then((done) => { if (!done) this.lit = at + 1; this.view.light(this.lit); });
  }

  programPanel() {
    const box = el("div", { class: "text", tabindex: 0, role: "listbox", "aria-label": t("program") }), name = this.name, { plan } = page;
    const show = (files) => {
      if (this.name !== name || page.plan !== plan) return;
      clear(box, files.map((file) => [el("h3", { text: file.name }), el("ol", {}, file.lines.map((line, i) => el("li", {
        class: file.cuts[i] && file.cuts[i] === this.lit ? "lit" : "", role: "option", "data-cut": file.cuts[i] || null, text: line,
        onclick: () => { if (file.cuts[i]) this.light(file.cuts[i]); },
      })))]).flat());
      const lit = box.querySelector(".lit");
      if (lit) lit.scrollIntoView({ block: "center" });
    };
    box.addEventListener("keydown", (e) => {
      const by = { ArrowDown: 1, ArrowUp: -1 }[e.key];
      if (by) { e.preventDefault(); this.light(Math.min(this.sheet.cuts.length, Math.max(1, (this.lit || 0) + by))); this.side.querySelector(".text").focus(); }
    });
    if (this.programs && this.programs.plan === plan && this.programs.name === name) show(this.programs.files);
    else get(job(page.name, `/program/${encodeURIComponent(name)}`)).then((files) => { this.programs = { plan, name, files }; show(files); }).catch(failed);
    return [box];
  }

  playbackPanel() {
    const src = `/jobs/${encodeURIComponent(page.name)}/playback/${encodeURIComponent(this.name)}`;
    this.frame = el("iframe", { class: "playback", src, title: t("playback") });
    this.picture.append(this.frame);
    return [el("p", { class: "none", text: t("playbackHint") }), el("p", { class: "row" }, el("a", { class: "press", target: "_blank", href: src, text: t("playbackAlone") }))];
  }

  findingsPanel() {
    const own = page.plan.findings.filter((f) => f.about === this.name || f.about.includes(this.sheet.plate)).map((f) => f.words);
    return [listed(t("findings"), [...new Set([...this.sheet.findings, ...own])], t("noFindings")), listed(t("edits"), page.plan.edits.map((words, i) => `${i + 1}. ${words}`), t("noEdits")),
      el("p", { class: "row" }, el("a", { class: "press", target: "_blank", href: `/jobs/${encodeURIComponent(page.name)}/setup/${encodeURIComponent(this.name)}`, text: t("setup") }))];
  }

  async improve(what) {
    const stop = button(t("stop"), () => post(job(page.name, "/stop")).catch(failed), { class: "stop" }), words = el("span", { role: "status" });
    clear(this.hint, stop, words);
    const timer = setInterval(() => get(job(page.name)).then((s) => { words.textContent = ` ${s.stage || ""} ${s.share ? number(100 * s.share) + " %" : ""}`; }).catch(() => {}), 400);
    const plan = await working(t(what === "nest" ? "improveNest" : "improveOrder"), () => post(job(page.name, "/improve"), { what, sheet: this.name }));
    clearInterval(timer);
    this.hint.textContent = "";
    if (plan) { take(plan); told(`${t(plan.better ? "better" : "notBetter")} ${figuresWords(plan)}`); }
  }
}
