// All words of the page, in one place.  {name} is filled in.
export const TEXTS = {
  en: {
    gases: { oxygen: "oxygen", air: "air", nitrogen: "nitrogen", acetylene: "acetylene", propane: "propane", "natural gas": "natural gas" },
    lang: "Deutsch", jobs: "Jobs in {folder}", noJobs: "No job here yet. Bring drawings in, then make a job of them.",
    open: "Open", closed: "not open", busy: "working", wrong: "cannot be planned", ready: "planned", newJob: "Make a job",
    drawings: "Drawings", addDrawings: "Bring drawings in", dropHere: "DXF, SVG or STEP files; drop them here or choose them.",
    seeDrawings: "Show drawings with their findings", batch: "Batch", sheet: "Sheet", compare: "What changed", rack: "Rack and standing",
    planning: "Planning {job}", stop: "Stop with the best so far", back: "All jobs",
    undo: "Take back", redo: "Make again", fit: "Whole sheet", zoomIn: "Closer", zoomOut: "Further", measure: "Measure",
    select: "Lay parts", start: "Choose a start", tab: "Tab here", noTab: "No tab here", keepOff: "Keep parts off",
    names: "names", order: "order", cuts: "cuts", heat: "heat", parts: "parts",
    time: "time", gas: "gas", cost: "cost", error: "worst error", used: "used", power: "power", startsCount: "starts", travel: "travel", total: "All sheets",
    noCost: "no prices named", proved: "proved", notProved: "not proved", proving: "proving …", moving: "laying …",
    improveNest: "Nest the rest again", improveOrder: "Order again", better: "Something better was found and laid.", notBetter: "Nothing better was found.",
    release: "Release programs", releasedList: "Released", releasedBy: "released by {who}, {when}", who: "Who releases?", doRelease: "Write the programs", cancel: "Leave it",
    released: "{count} files are written to {folder}.", releaseSay: "All programs of this plan are proved. They are written to {folder}, all or none.",
    part: "Part", nothingChosen: "Choose a part: click it, or pick it from the list.", pick: "Parts on this sheet", turn: "Turn", turnBack: "Turn back", mirror: "Mirror",
    pin: "Pin", letGo: "Let go", takeOff: "Take off", swapWith: "Swap with …", swapPick: "Click the part to swap with.", toSheet: "Lay on", quantity: "Wanted",
    off: "Without a place", lay: "Lay", layPick: "Move it to its place and click; Enter with the keyboard.", allPlaced: "Every part has a place.",
    moveHint: "Arrow keys move it 1 mm, with Shift 10, with Alt 0.1; Enter lays it, Escape leaves it.",
    cutOrder: "Order of cuts", earlier: "Earlier", later: "Later", beforeThat: "Before …", beforePick: "Now choose the cut that comes later.", freeOrder: "Search the order anew", orderHeld: "held by hand",
    program: "Program", playback: "Playback", playbackHint: "The torch is followed in the picture.", playbackAlone: "In a window of its own", findings: "Findings", edits: "Changed by hand", noEdits: "Nothing is changed by hand.", noFindings: "Nothing to tell.",
    setup: "Setup sheet", labels: "Labels", print: "Print", data: "Cutting data", dataSay: "Row for {words}", use: "Take it", process: "process", setting: "setting",
    before: "Before any edit", after: "Now", same: "as before", gone: "not there", movedParts: "lie otherwise: {parts}", difference: "difference",
    wanted: "wanted", planned: "planned", cut: "cut", spoilt: "spoilt", owed: "owed", noInventory: "This job takes no plates from an inventory; one would keep what is cut.",
    tickOff: "Tick off as cut", ticked: "{piece} is booked as cut.", inRack: "In the rack", reserved: "reserved for {plan}", rackEmpty: "The rack holds nothing for this.",
    gapOverlap: "overlaps {other}", gapNear: "{apart} mm from {other}, {needed} are needed", edge: "the plate's edge", keepOffName: "a keep-out", fits: "fits",
    pinned: "pinned", hot: "{c} °C", distance: "{mm} mm  (x {x}, y {y})", measurePick: "Click two places.", startPick: "Click near the edge where the cut is to begin.",
    tabPick: "Click near the outside where a tab is to hold the part.", noTabPick: "Click near the tab that is not to be.", keepOffPick: "Draw a box over the place.",
    jobName: "Name of the job", thickness: "thickness, mm", grade: "grade", length: "length, mm", width: "width, mm", plates: "Plates", plateId: "mark", count: "number", addPlate: "Another plate", makeJob: "Make the job", take: "cut it",
    table: "table, mm", current: "largest current, A", copyOf: "{part} {copy}", sheets: "Sheets", sheetOf: "Sheet {name}, {words}", unsavedBusy: "Wait until the work is done.",
    caution: "Dry run with the torch off first; the operator stays in charge, local codes and licensed practice go before this page.",
    language: "Language", show: "Show", line: "line", closeIt: "Close", problemLost: "The server does not answer. Nothing is lost: edits are kept in their file.", views: "Views", tools: "Tools",
    of: "of", newSheet: "another {plate}", anew: "Read the job anew", places: "place ({x}, {y}) mm", heatSay: "Number at a start: plate temperature there, °C.",
  },
  de: {
    gases: { oxygen: "Sauerstoff", air: "Luft", nitrogen: "Stickstoff", acetylene: "Acetylen", propane: "Propan", "natural gas": "Erdgas" },
    lang: "English", jobs: "Aufträge in {folder}", noJobs: "Noch kein Auftrag hier. Zeichnungen hereinholen, dann einen Auftrag daraus machen.",
    open: "Öffnen", closed: "nicht geöffnet", busy: "in Arbeit", wrong: "nicht planbar", ready: "geplant", newJob: "Auftrag anlegen",
    drawings: "Zeichnungen", addDrawings: "Zeichnungen hereinholen", dropHere: "DXF-, SVG- oder STEP-Dateien hier ablegen oder auswählen.",
    seeDrawings: "Zeichnungen mit Befunden zeigen", batch: "Los", sheet: "Tafel", compare: "Was anders ist", rack: "Lager und Stand",
    planning: "{job} wird geplant", stop: "Anhalten, das Beste behalten", back: "Alle Aufträge",
    undo: "Zurücknehmen", redo: "Nochmals", fit: "Ganze Tafel", zoomIn: "Näher", zoomOut: "Weiter weg", measure: "Messen",
    select: "Teile legen", start: "Anfang wählen", tab: "Steg hier", noTab: "Kein Steg hier", keepOff: "Fläche freihalten",
    names: "Namen", order: "Reihenfolge", cuts: "Schnitte", heat: "Wärme", parts: "Teile",
    time: "Zeit", gas: "Gas", cost: "Kosten", error: "größter Fehler", used: "genutzt", power: "Strom", startsCount: "Anfänge", travel: "Wege", total: "Alle Tafeln",
    noCost: "keine Preise genannt", proved: "geprüft", notProved: "nicht geprüft", proving: "wird geprüft …", moving: "wird gelegt …",
    improveNest: "Rest neu schachteln", improveOrder: "Neu ordnen", better: "Besseres wurde gefunden und gelegt.", notBetter: "Nichts Besseres gefunden.",
    release: "Programme freigeben", releasedList: "Freigegeben", releasedBy: "freigegeben von {who}, {when}", who: "Wer gibt frei?", doRelease: "Programme schreiben", cancel: "Lassen",
    released: "{count} Dateien stehen in {folder}.", releaseSay: "Alle Programme dieses Plans sind geprüft. Sie werden nach {folder} geschrieben, alle oder keines.",
    part: "Teil", nothingChosen: "Ein Teil wählen: anklicken oder aus der Liste nehmen.", pick: "Teile auf dieser Tafel", turn: "Drehen", turnBack: "Zurückdrehen", mirror: "Spiegeln",
    pin: "Festhalten", letGo: "Loslassen", takeOff: "Herunternehmen", swapWith: "Tauschen mit …", swapPick: "Das Teil anklicken, mit dem getauscht wird.", toSheet: "Legen auf", quantity: "Gewünscht",
    off: "Ohne Platz", lay: "Legen", layPick: "An seinen Platz führen und klicken; mit der Tastatur Eingabe.", allPlaced: "Jedes Teil hat einen Platz.",
    moveHint: "Pfeiltasten schieben 1 mm, mit Umschalt 10, mit Alt 0,1; Eingabe legt, Esc lässt es.",
    cutOrder: "Reihenfolge der Schnitte", earlier: "Früher", later: "Später", beforeThat: "Vor …", beforePick: "Jetzt den Schnitt wählen, der später kommt.", freeOrder: "Reihenfolge neu suchen", orderHeld: "von Hand gehalten",
    program: "Programm", playback: "Ablauf", playbackHint: "Im Bild ist dem Brenner zu folgen.", playbackAlone: "In eigenem Fenster", findings: "Befunde", edits: "Von Hand geändert", noEdits: "Nichts ist von Hand geändert.", noFindings: "Nichts zu melden.",
    setup: "Einrichteblatt", labels: "Etiketten", print: "Drucken", data: "Schneiddaten", dataSay: "Zeile für {words}", use: "Nehmen", process: "Verfahren", setting: "Einstellung",
    before: "Vor allen Änderungen", after: "Jetzt", same: "wie vorher", gone: "nicht da", movedParts: "liegen anders: {parts}", difference: "Unterschied",
    wanted: "gewünscht", planned: "geplant", cut: "geschnitten", spoilt: "Ausschuss", owed: "offen", noInventory: "Dieser Auftrag nimmt keine Bleche aus einem Lager; eines würde festhalten, was geschnitten ist.",
    tickOff: "Als geschnitten abhaken", ticked: "{piece} ist als geschnitten gebucht.", inRack: "Im Lager", reserved: "belegt für {plan}", rackEmpty: "Das Lager hat nichts dafür.",
    gapOverlap: "überdeckt {other}", gapNear: "{apart} mm bis {other}, nötig sind {needed}", edge: "zum Blechrand", keepOffName: "zu einer Sperrfläche", fits: "passt",
    pinned: "festgehalten", hot: "{c} °C", distance: "{mm} mm  (x {x}, y {y})", measurePick: "Zwei Stellen anklicken.", startPick: "Nahe der Kante anklicken, wo der Schnitt beginnen soll.",
    tabPick: "Nahe der Außenkante anklicken, wo ein Steg halten soll.", noTabPick: "Nahe dem Steg anklicken, der wegfallen soll.", keepOffPick: "Ein Rechteck über die Stelle ziehen.",
    jobName: "Name des Auftrags", thickness: "Dicke, mm", grade: "Güte", length: "Länge, mm", width: "Breite, mm", plates: "Bleche", plateId: "Zeichen", count: "Anzahl", addPlate: "Noch ein Blech", makeJob: "Auftrag anlegen", take: "schneiden",
    table: "Tisch, mm", current: "größter Strom, A", copyOf: "{part} {copy}", sheets: "Tafeln", sheetOf: "Tafel {name}, {words}", unsavedBusy: "Warten, bis die Arbeit fertig ist.",
    caution: "Erst Trockenlauf mit ausgeschaltetem Brenner; der Bediener trägt die Verantwortung, örtliche Vorschriften und Fachkunde gehen dieser Seite vor.",
    language: "Sprache", show: "Zeigen", line: "Zeile", closeIt: "Schließen", problemLost: "Der Server antwortet nicht. Nichts ist verloren: Änderungen stehen in ihrer Datei.", views: "Ansichten", tools: "Werkzeuge",
    of: "von", newSheet: "weiteres {plate}", anew: "Auftrag neu lesen", places: "Stelle ({x}, {y}) mm", heatSay: "Zahl am Anfang: Blechtemperatur dort, °C.",
  },
};

let now = (() => {
  const kept = localStorage.getItem("language");
  return kept in TEXTS ? kept : (navigator.language || "en").startsWith("de") ? "de" : "en";
})();

export function language() { return now; }

export function setLanguage(code) {
  now = code;
  localStorage.setItem("language", code);
  document.documentElement.lang = code;
}

export function t(key, values = {}) {
  return TEXTS[now][key].replace(/\{(\w+)\}/g, (_, name) => values[name]);
}

// Volumes of gases in words: "oxygen 1.59 m³".
export function gasWords(volumes) {
  return Object.entries(volumes).map(([gas, m3]) => `${TEXTS[now].gases[gas] || gas} ${number(m3, 2)} m³`).join(", ");
}

export function number(value, digits = 0) {
  return value.toLocaleString(now, { minimumFractionDigits: digits, maximumFractionDigits: digits });
}

export function clock(seconds) {
  const whole = Math.round(seconds), h = Math.floor(whole / 3600), m = Math.floor(whole / 60) % 60, s = String(whole % 60).padStart(2, "0");
  return h ? `${h}:${String(m).padStart(2, "0")}:${s}` : `${m}:${s}`;
}

document.documentElement.lang = now;
