// Which view is shown, and what all views share: the plan, the words at the foot, the dialog.
import { BenchView } from "./bench.js";
import { button, clear, el, svgRing } from "./dom.js";
import { folderView, newJobView } from "./folder.js";
import { Problem, get, job, post } from "./net.js";
import { thumbnail } from "./sheet.js";
import { clock, gasWords, language, number, setLanguage, t } from "./texts.js";

const POLL_MS = 250;
const main = document.getElementById("main"), head = document.getElementById("head");
const toldBox = document.getElementById("told"), dialog = document.getElementById("asked");

export const page = { plan: null, name: null, view: null, working: null, bench: null };

export function told(words, bad = false) {
  clear(toldBox, el("span", { class: bad ? "bad" : "", text: (bad ? "✕ " : "") + words }));
}

export function failed(problem) {
  if (!(problem instanceof Problem)) { console.error(problem); }
  told(problem.message, true);
}

export function ask(title, content, actions) {
  clear(dialog, el("h2", { text: title }), content, el("div", { class: "row" }, actions));
  dialog.setAttribute("aria-label", title);
  dialog.showModal();
  return () => dialog.close();
}

// Runs one piece of work; the page shows that it does.
export async function working(words, work) {
  if (page.working) { told(t("unsavedBusy"), true); return null; }
  page.working = words;
  document.body.classList.add("working");
  told(words);
  try { return await work(); } catch (problem) { failed(problem); return null; } finally {
    page.working = null;
    document.body.classList.remove("working");
  }
}

export async function edit(data, words = t("proving")) {
  const plan = await working(words, () => post(job(page.name, "/edits"), data));
  if (plan) { take(plan); told(figuresWords(plan)); return true; }
  if (page.bench) page.bench.put();
  return false;
}

export function take(plan) {
  page.plan = plan;
  if (page.bench) page.bench.put(); else draw();
  headLine();
}

export function figuresWords(plan) {
  const f = plan.total, worst = Math.max(0, ...plan.sheets.map((s) => s.figures.error_mm));
  const cost = f.cost === null ? "" : ` · ${t("cost")} ${number(f.cost, 2)} ${f.currency}`;
  return `${t("proved")} · ${t("time")} ${clock(f.time_s)} · ${gasWords(f.gas_m3)}${cost} · ${t("error")} ${number(worst, 3)} mm`;
}

export async function undo(redo = false) {
  const plan = await working(t("proving"), () => post(job(page.name, redo ? "/redo" : "/undo")));
  if (plan) { take(plan); told(figuresWords(plan)); }
}

function headLine() {
  const links = page.plan ? ["batch", "sheet", "compare", "rack"].map((view) => el("a", {
    href: `#/${encodeURIComponent(page.name)}/${view}`, "aria-current": page.view === view ? "page" : null, text: t(view),
  })) : [];
  clear(head,
    el("a", { class: "home", href: "#/", text: page.plan ? "‹ " + t("back") : "cutplan" }),
    page.plan ? el("strong", { text: page.plan.job }) : null,
    el("nav", { "aria-label": t("views") }, links),
    page.plan ? el("span", { class: "row" },
      button("↶ " + t("undo"), () => undo(), { class: "undo", disabled: !page.plan.edits.length, title: "Ctrl+Z" }),
      button("↷ " + t("redo"), () => undo(true), { class: "redo", disabled: !page.plan.undone, title: "Ctrl+Y" }),
      button(t("release"), releaseAsked, { class: "release" })) : null,
    button(t("lang"), () => { setLanguage(language() === "en" ? "de" : "en"); headLine(); draw(); }, { class: "lang", "aria-label": t("language") }));
}

function releaseAsked() {
  const who = el("input", { id: "who", value: localStorage.getItem("who") || "", maxlength: 80, autocomplete: "name" });
  const folder = page.name.replace(/\.toml$/, "-plan");
  const close = ask(t("release"), el("div", {},
    el("p", { text: t("releaseSay", { folder }) }), el("p", { class: "caution", text: t("caution") }),
    el("label", {}, t("who") + " ", who)), [
    button(t("doRelease"), async () => {
      close();
      localStorage.setItem("who", who.value);
      const done = await working(t("release"), () => post(job(page.name, "/release"), { who: who.value }));
      if (done) { page.plan.releases = done.releases; told(t("released", { count: done.files.length, folder: done.folder })); if (!page.bench) draw(); }
    }, { class: "release-now" }), button(t("cancel"), () => close())]);
  who.focus();
}

// Waits until the server has planned a job.
async function opened(name) {
  let state = await post(job(name, "/open"));
  const words = el("p", { role: "status" }), bar = el("progress", { max: 1, "aria-label": t("planning", { job: name }) });
  clear(main, el("section", { class: "wait" }, el("h1", { text: t("planning", { job: name }) }), bar, words,
    button(t("stop"), () => post(job(name, "/stop")).catch(failed))));
  while (state.state === "busy") {
    words.textContent = state.stage || "…";
    if (state.share === null || state.share === undefined) bar.removeAttribute("value"); else bar.value = state.share;
    await new Promise((go) => setTimeout(go, POLL_MS));
    state = await get(job(name));
  }
  if (state.problem) throw new Problem(state.problem, 422);
}

function batchView() {
  const { plan } = page;
  const cards = plan.sheets.map((sheet) => {
    const canvas = el("canvas", { "aria-hidden": "true" });
    return el("a", { class: "card", href: `#/${encodeURIComponent(page.name)}/sheet/${encodeURIComponent(sheet.name)}`, "data-sheet": sheet.name }, canvas,
      el("strong", { text: sheet.name }), el("span", { text: sheet.words }),
      el("span", { class: "fig", text: `${sheet.figures.parts} ${t("parts")} · ${t("used")} ${number(100 * sheet.figures.used, 1)} % · ${clock(sheet.figures.time_s)}` }),
      el("span", { class: "fig", text: `${sheet.figures.passed ? "✓ " + t("proved") : "✕ " + t("notProved")} · ${t("error")} ${number(sheet.figures.error_mm, 3)} mm` }));
  });
  clear(main, el("section", { class: "batch" },
    el("h1", { text: plan.job }),
    totals(plan.total),
    el("div", { class: "cards" }, cards),
    el("div", { class: "columns" },
      listed(t("off"), Object.entries(plan.off).map(([part, copies]) => `${part}: ${copies.length}`), t("allPlaced")),
      listed(t("edits"), plan.edits.map((words, i) => `${i + 1}. ${words}`), t("noEdits")),
      listed(t("findings"), plan.findings.map((f) => `${f.about}: ${f.words}`), t("noFindings")),
      listed(t("releasedList"), plan.releases.map((r) => t("releasedBy", { who: r.who, when: new Date(r.when).toLocaleString(language()) })), "–")),
    el("p", { class: "row" }, el("a", { class: "press", target: "_blank", href: `/jobs/${encodeURIComponent(page.name)}/labels`, text: t("labels") }),
      el("a", { class: "press", target: "_blank", href: `/drawings.html?job=${encodeURIComponent(page.name)}`, text: t("seeDrawings") }),
      button(t("anew"), async () => { await post(job(page.name, "/open"), { anew: true }).catch(failed); page.plan = null; route(); }))));
  plan.sheets.forEach((sheet, i) => thumbnail(cards[i].querySelector("canvas"), plan, sheet));
}

export function totals(f, before = null) {
  const row = (name, value, old) => el("div", { class: "figure" }, el("span", { text: name }), el("b", { text: value }), old && old !== value ? el("s", { text: old }) : null);
  const gas = (x) => gasWords(x.gas_m3);
  const cost = (x) => x.cost === null ? t("noCost") : `${number(x.cost, 2)} ${x.currency}`;
  return el("div", { class: "figures" }, row(t("time"), clock(f.time_s), before && clock(before.time_s)), row(t("gas"), gas(f), before && gas(before)),
    row(t("power"), `${number(f.power_kwh, 1)} kWh`, before && `${number(before.power_kwh, 1)} kWh`),
    row(t("startsCount"), number(f.starts), before && number(before.starts)), row(t("cost"), cost(f), before && cost(before)));
}

export function listed(title, items, none) {
  return el("section", { class: "list" }, el("h2", { text: title }), items.length ? el("ul", {}, items.map((words) => el("li", { text: words }))) : el("p", { class: "none", text: none }));
}

async function compareView() {
  const found = await get(job(page.name, "/compare")), { plan } = page;
  const rows = found.rows.map((r) => {
    const one = el("canvas", {}), two = el("canvas", {});
    const now = plan.sheets.find((s) => s.name === r.sheet), was = found.before_sheets[r.sheet];
    const like = now || plan.sheets.find((s) => s.plate === r.sheet.replace(/-\d+$/, ""));
    const say = (f) => f ? `${f.parts} ${t("parts")} · ${clock(f.time_s)} · ${t("used")} ${number(100 * f.used, 1)} % · ${t("travel")} ${clock(f.travel_s)}` : t("gone");
    return { r, one, two, now, like, was, node: el("section", { class: "pair", "data-sheet": r.sheet }, el("h2", { text: r.sheet }),
      el("figure", {}, one, el("figcaption", { text: say(r.before) })), el("figure", {}, two, el("figcaption", { text: say(r.after) })),
      el("p", { class: "differs", text: r.same ? "= " + t("same") : r.moved.length ? "≠ " + t("movedParts", { parts: r.moved.join(", ") }) : "≠ " + t("order") })) };
  });
  clear(main, el("section", { class: "compare" }, el("h1", { text: t("compare") }),
    el("div", { class: "pair heads" }, el("h2", { text: "" }), el("h3", { text: t("before") }), el("h3", { text: t("after") })),
    rows.map((r) => r.node), el("h2", { text: t("total") }), totals(found.after, found.before)));
  for (const { one, two, now, like, was } of rows) {
    if (was && like) thumbnail(one, plan, { ...like, placements: was });
    if (now) thumbnail(two, plan, now);
  }
}

async function rackView() {
  const found = await get(job(page.name, "/standing"));
  const cells = ["wanted", "planned", "cut", "spoilt", "owed"];
  const marks = new Set(page.plan.releases.flatMap((r) => r.sheets));
  clear(main, el("section", { class: "rack" }, el("h1", { text: t("rack") }),
    found.inventory ? el("table", {}, el("thead", {}, el("tr", {}, el("th", { text: t("part") }), cells.map((c) => el("th", { class: "n", text: t(c) })))),
      el("tbody", {}, found.owed.map((o) => el("tr", {}, el("td", { text: o.part }), cells.map((c) => el("td", { class: "n", text: String(o[c]) })))))) : el("p", { class: "none", text: t("noInventory") }),
    found.inventory ? el("div", { class: "ticks" }, page.plan.sheets.filter((s) => marks.has(s.name)).map((s) => button(`☐ ${s.name}: ${t("tickOff")}`, async () => {
      const done = await working(t("tickOff"), () => post(job(page.name, "/cut"), { sheet: s.name }));
      if (done) { told(t("ticked", done)); rackView(); }
    }, { class: "tick" }))) : null,
    el("h2", { text: t("inRack") }),
    found.rack.length ? el("div", { class: "pieces" }, found.rack.map((p) => el("div", { class: "piece" }, svgRing([p.outline, ...p.voids], p.size, p.label),
      el("strong", { text: p.label }), el("span", { text: `${p.words}, ${number(p.size[0])} × ${number(p.size[1])}` }),
      el("span", { text: [p.heat, p.location].filter(Boolean).join(", ") }), p.plan ? el("span", { text: t("reserved", { plan: p.plan }) }) : null))) : el("p", { class: "none", text: t("rackEmpty") })));
}

export function draw() {
  if (page.bench) { page.bench.close(); page.bench = null; }
  headLine();
  const [, view = "batch", sheet] = place();
  const views = {
    batch: batchView, compare: compareView, rack: rackView,
    sheet: () => { page.bench = new BenchView(main, sheet); },
  };
  if (!page.plan) return folderView(main, page);
  return Promise.resolve((views[view] || batchView)()).catch(failed);
}

function place() { return location.hash.replace(/^#\//, "").split("/").map(decodeURIComponent); }

async function route() {
  const [name, view = "batch"] = place();
  try {
    if (!name) { page.plan = page.name = null; page.view = null; await draw(); return; }
    if (name === "new") { page.plan = null; headLine(); await newJobView(main); return; }
    page.view = view;
    if (page.name !== name || !page.plan) {
      page.name = name;
      page.plan = null;
      headLine();
      await opened(name);
      page.plan = await get(job(name, "/plan"));
    }
    await draw();
    main.focus({ preventScroll: true });
  } catch (problem) {
    clear(main, el("section", { class: "wait" }, el("h1", { text: name || "" }), el("p", { class: "bad", text: problem.message }), el("a", { class: "press", href: "#/", text: t("back") })));
    failed(problem);
  }
}

addEventListener("keydown", (e) => {
  if (!page.plan || dialog.open || /INPUT|SELECT|TEXTAREA/.test(e.target.tagName)) return;
  const control = e.ctrlKey || e.metaKey;
  if (control && e.key.toLowerCase() === "z") { e.preventDefault(); undo(e.shiftKey); }
  if (control && e.key.toLowerCase() === "y") { e.preventDefault(); undo(true); }
});
addEventListener("hashchange", route);
window.cutplan = page;
route();
