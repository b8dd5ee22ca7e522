// The folder: its jobs, drawings brought in, a job made of them.
import { button, clear, el } from "./dom.js";
import { failed, told } from "./main.js";
import { get, post, send } from "./net.js";
import { t } from "./texts.js";

export async function folderView(main) {
  const found = await get("/api/folder").catch((problem) => { failed(problem); return null; });
  if (!found) return;
  if (found.only) { location.hash = `#/${encodeURIComponent(found.only)}`; return; }
  const state = (j) => t({ closed: "closed", busy: "busy", wrong: "wrong", open: "ready" }[j.state]);
  clear(main, el("section", { class: "folder" }, el("h1", { text: t("jobs", found) }),
    found.jobs.length ? el("ul", { class: "jobs" }, found.jobs.map((j) => el("li", {}, el("a", { href: `#/${encodeURIComponent(j.name)}`, text: j.name }), el("span", { text: state(j) }))))
      : el("p", { class: "none", text: t("noJobs") }),
    el("h2", { text: t("drawings") }), takeIn(() => folderView(main)),
    el("ul", { class: "drawings" }, found.drawings.map((name) => el("li", { text: name }))),
    el("p", { class: "row" }, found.drawings.length ? el("a", { class: "press", target: "_blank", href: "/drawings.html", text: t("seeDrawings") }) : null,
      el("a", { class: "press", href: "#/new", text: t("newJob") }))));
}

function takeIn(then) {
  const files = el("input", { type: "file", multiple: true, accept: ".dxf,.svg,.step,.stp", id: "files", onchange: () => take([...files.files]) });
  const box = el("label", { class: "drop", for: "files" }, el("span", { text: t("dropHere") }), files);
  const take = async (chosen) => {
    for (const file of chosen) {
      try {
        const got = await send(`/api/drawings/${encodeURIComponent(file.name)}`, file);
        told(`${got.name}: ${got.parts.map((p) => p.name).join(", ")}${got.findings.length ? " · " + got.findings.map((f) => f.words).join(" · ") : ""}`, got.stops);
      } catch (problem) { failed(problem); }
    }
    then();
  };
  box.addEventListener("dragover", (e) => e.preventDefault());
  box.addEventListener("drop", (e) => { e.preventDefault(); take([...e.dataTransfer.files]); });
  return box;
}

export async function newJobView(main) {
  const found = await get("/api/folder");
  const field = (name, value, more = {}) => el("input", { name, value, "aria-label": more.label || t(name), ...more });
  const parts = found.drawings.map((drawing) => el("tr", { "data-drawing": drawing },
    el("td", {}, el("label", {}, el("input", { type: "checkbox", name: "take", checked: true, "aria-label": `${drawing}: ${t("take")}` }), " " + drawing)),
    el("td", {}, field("count", "1", { type: "number", min: 1, label: `${drawing}: ${t("count")}` })),
    el("td", {}, field("thickness", "10", { type: "number", min: 0.1, step: "any", label: `${drawing}: ${t("thickness")}` })), el("td", {}, field("grade", "S355", { label: `${drawing}: ${t("grade")}` }))));
  const plates = el("tbody");
  const plate = (n) => plates.append(el("tr", {}, el("td", {}, field("plateId", `PL${n}`)), el("td", {}, field("length", "3000", { type: "number" })), el("td", {}, field("width", "1500", { type: "number" })),
    el("td", {}, field("thickness", "10", { type: "number", step: "any" })), el("td", {}, field("grade", "S355")), el("td", {}, field("count", "2", { type: "number" }))));
  plate(1);
  const headed = (...names) => el("thead", {}, el("tr", {}, names.map((n) => el("th", { text: t(n) }))));
  const name = field("jobName", "job"), tableX = field("tableX", "6000", { label: t("table") + " x" }), tableY = field("tableY", "2000", { label: t("table") + " y" }), current = field("current", "200");
  const make = async () => {
    const rowsOf = (body) => [...body.querySelectorAll("tr")].map((tr) => Object.fromEntries([...tr.querySelectorAll("input")].map((i) => [i.name, i.type === "checkbox" ? i.checked : i.value])));
    const data = {
      job: { name: name.value }, machine: { table: [Number(tableX.value), Number(tableY.value)], max_current_a: Number(current.value), processes: ["plasma", "oxyfuel"] },
      plate: rowsOf(plates).map((p) => ({ id: p.plateId, length: Number(p.length), width: Number(p.width), thickness: Number(p.thickness), grade: p.grade, quantity: Number(p.count) })),
      part: rowsOf(partBody).map((p, i) => ({ ...p, drawing: found.drawings[i] })).filter((p) => p.take).map((p) => ({ drawing: p.drawing, quantity: Number(p.count), thickness: Number(p.thickness), grade: p.grade })),
    };
    const file = name.value.trim().replace(/[^\p{L}\p{N}.+-]+/gu, "-").replace(/^[-.]+/, "") + ".toml";
    try { await post(`/api/new-job/${encodeURIComponent(file)}`, data); location.hash = `#/${encodeURIComponent(file)}`; } catch (problem) { failed(problem); }
  };
  const partBody = el("tbody", {}, parts);
  clear(main, el("section", { class: "new" }, el("h1", { text: t("newJob") }),
    el("p", { class: "row" }, el("label", {}, t("jobName") + " ", name), el("label", {}, t("table") + " ", tableX, " × ", tableY), el("label", {}, t("current") + " ", current)),
    el("h2", { text: t("drawings") }), el("table", {}, headed("drawings", "count", "thickness", "grade"), partBody),
    el("h2", { text: t("plates") }), el("table", {}, headed("plateId", "length", "width", "thickness", "grade", "count"), plates),
    el("p", { class: "row" }, button(t("addPlate"), () => plate(plates.children.length + 1)), button(t("makeJob"), make, { class: "make" }))));
}
