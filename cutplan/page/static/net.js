// Talks to the server; every answer that is not one becomes a Problem with its words.
import { t } from "./texts.js";

export class Problem extends Error {
  constructor(words, status, place) { super(words); this.status = status; this.place = place; }
}

async function ask(path, options) {
  let answer;
  try { answer = await fetch(path, { credentials: "same-origin", ...options }); }
  catch { throw new Problem(t("problemLost"), 0); }
  const text = await answer.text();
  let data;
  try { data = JSON.parse(text); } catch { data = { problem: text }; }
  if (!answer.ok) throw new Problem(data.problem || String(answer.status), answer.status, data.place);
  return data;
}

export const get = (path) => ask(path);
export const post = (path, data = {}) => ask(path, {
  method: "POST", headers: { "Content-Type": "application/json", "X-Cutplan": "1" }, body: JSON.stringify(data),
});
export const send = (path, file) => ask(path, { method: "POST", headers: { "X-Cutplan": "1" }, body: file });
export const job = (name, rest = "") => `/api/jobs/${encodeURIComponent(name)}${rest}`;
