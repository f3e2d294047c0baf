// The list of worst places, and the same as a table.

const PLACES_AT_FIRST = 60;
const TABLE_ROWS_MAX = 1000;

class Places {
  // `flown` is called with a place that was chosen, and tells whether what hides it was cut away.
  constructor(header, flown) {
    this.places = header.summary.places.map((place) => ({
      ...place, vertices: place.vertices.map((number) => number - 1), peak: place.peak_vertex - 1,
    }));
    this.tells = new Map(header.causes.map((cause) => [cause.name, cause.tells]));
    this.stops = header.stops;
    this.flown = flown;
    this.chosen = -1;
    this.items = [];
    this.fill();
  }

  fill() {
    const count = this.places.length;
    byId("places-title").textContent = count
      ? `Worst places (${count.toLocaleString("en")})` : "No place is at risk";
    byId("table-box").hidden = !count;
    if (!count) byId("places").replaceWith(element("p", "Nowhere does the smoothed surface stray visibly from what its cage intends.", { id: "places" }));
    this.grow(PLACES_AT_FIRST);
    byId("more-places").addEventListener("click", () => this.grow(this.places.length));
    byId("table-box").addEventListener("toggle", () => this.fillTable(), { once: true });
  }

  grow(count) {
    const list = byId("places");
    for (let k = this.items.length; k < Math.min(count, this.places.length); k++) {
      this.items.push(this.item(k));
      list.append(this.items[k]);
    }
    const more = byId("more-places"), left = this.places.length - this.items.length;
    more.hidden = left <= 0;
    more.textContent = `Show the other ${left.toLocaleString("en")}`;
  }

  item(k) {
    const place = this.places[k];
    const item = element("li"), button = element("button", null, { type: "button", "aria-expanded": "false" });
    const cause = element("span", place.cause, { class: "cause" });
    cause.append(element("span", ` at vertex ${place.peak_vertex}`, { class: "where" }));
    const risk = element("span", null, { class: "risk" }), swatch = element("i");
    swatch.style.background = cssColour(colourAt(this.stops, place.risk ?? 0));
    risk.append(swatch, writtenRisk(place.risk));
    button.append(element("span", String(place.spot), { class: "rank" }), cause, risk);
    button.addEventListener("click", () => this.choose(k));
    item.append(button);
    return item;
  }

  // Opens a place in the list and flies the view to it.
  choose(k) {
    if (k < 0 || k >= this.places.length) return;
    if (k >= this.items.length) this.grow(k + 1);
    this.close();
    this.chosen = k;
    const item = this.items[k];
    item.classList.add("chosen");
    item.firstChild.setAttribute("aria-expanded", "true");
    item.append(this.told(this.places[k]));
    item.scrollIntoView({ block: "nearest" });
    if (this.flown(this.places[k])) {
      item.lastChild.prepend(element("p", "Other parts hide this place on all sides; in this view they are cut away.", { class: "quiet" }));
    }
  }

  close() {
    const before = this.items[this.chosen];
    if (!before) return;
    before.classList.remove("chosen");
    before.firstChild.setAttribute("aria-expanded", "false");
    before.querySelector(".told")?.remove();
  }

  step(by) {
    const count = this.places.length;
    if (count) this.choose((this.chosen < 0 ? (by > 0 ? 0 : count - 1) : this.chosen + by + count) % count);
  }

  told(place) {
    const box = element("div", null, { class: "told" }), list = element("dl");
    const numbers = place.vertices.map((v) => v + 1);
    const pairs = [
      ["Cause", `${place.cause}: ${this.tells.get(place.cause) ?? ""}`],
      ["Figures", place.figure],
      ["What to do", place.remedy],
      ["Size", this.size(place)],
      [counted(numbers.length, "vertex", "vertices"), numbers.length > 40
        ? `${numbers.slice(0, 40).join(", ")} …` : numbers.join(", ")],
    ];
    for (const [label, text] of pairs) list.append(element("dt", label), element("dd", text));
    const copy = element("button", "Copy the vertex numbers", { type: "button" });
    const answer = element("span", "", { role: "status", class: "quiet" });
    copy.addEventListener("click", () => copyText(numbers.join(" "), answer, box));
    box.append(list, copy, " ", answer);
    return box;
  }

  // How large a place is and where it lies.
  size(place) {
    const centre = place.centre_units.map((x) => written(x)).join(", ");
    return `radius ${written(place.radius_units)} units about ${centre}; ${written(place.area_percent)} % of the surface; ` +
      `mean risk ${writtenRisk(place.mean_risk)}; ${counted(place.edges.length, "edge", "edges")} and ` +
      `${counted(place.faces.length, "face", "faces")} at its vertices`;
  }

  fillTable() {
    const rows = this.places.slice(0, TABLE_ROWS_MAX).map((place, k) => [
      String(place.spot), String(place.peak_vertex), writtenRisk(place.risk), written(place.area_percent), place.cause,
      place.figure, place.remedy, String(place.vertices.length),
    ]);
    const caption = this.places.length > rows.length
      ? `The ${rows.length} worst of ${this.places.length} places; summary.json has all` : "Places, the most visible of each band first";
    byId("table").replaceChildren(tableOf(caption,
      ["No.", "Vertex", "Risk", "Surface, %", "Cause", "Figures", "What to do", "Vertices"], rows));
  }
}

function tableOf(caption, head, rows) {
  const table = element("table");
  table.append(element("caption", caption));
  if (head) {
    const top = element("thead"), row = element("tr");
    for (const text of head) row.append(element("th", text, { scope: "col" }));
    top.append(row);
    table.append(top);
  }
  const body = element("tbody");
  for (const cells of rows) {
    const row = element("tr");
    cells.forEach((text, k) => row.append(k === 0
      ? element("th", text, { scope: "row" })
      : element("td", text)));
    body.append(row);
  }
  table.append(body);
  return table;
}

// Copies by the clipboard's interface; where that is denied, by a selected text field.
async function copyText(text, answer, box) {
  try {
    await navigator.clipboard.writeText(text);
    answer.textContent = "Copied.";
    return;
  } catch { /* not allowed here: the older way */ }
  const field = element("textarea", null, { readonly: "", rows: "3", "aria-label": "Vertex numbers" });
  field.value = text;
  field.style.width = "100%";
  box.querySelector("textarea")?.remove();
  box.append(field);
  field.select();
  const done = document.execCommand("copy");
  answer.textContent = done ? "Copied." : "The browser does not let the page copy: press Ctrl+C (⌘C) now.";
  if (done) field.remove();
}
