/* Notes on a phone: visits of one set at a time, times by button, one CSV file at the end. Nothing is loaded from anywhere, and
   nothing is sent. What is noted stays in the browser until it is saved, where the browser allows that. */
(function () {
  "use strict";
  var given = JSON.parse(document.getElementById("phone-data").textContent);
  var list = document.getElementById("visits"), status = document.getElementById("status");
  var rows = given.rows.map(function (row) { return copy(row); }), set = given.sets[0], open = null;

  function copy(row) { var out = {}; given.columns.concat(["planned", "added"]).forEach(function (name) { out[name] = row[name] || ""; }); return out; }
  function make(tag, text, more) {
    var element = document.createElement(tag);
    if (text) { element.textContent = text; }
    Object.keys(more || {}).forEach(function (key) { element.setAttribute(key, more[key]); });
    return element;
  }
  function now() {
    var parts = {}, form = { hourCycle: "h23", year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit", second: "2-digit" };
    form.timeZone = given.zone;
    new Intl.DateTimeFormat("en-GB", form).formatToParts(new Date()).forEach(function (part) { parts[part.type] = part.value; });
    return { date: parts.year + "-" + parts.month + "-" + parts.day, time: parts.hour + ":" + parts.minute + ":" + parts.second };
  }

  /* what is kept in the browser */
  function keep() { try { localStorage.setItem(given.key, JSON.stringify({ set: set, rows: rows })); } catch (problem) { return; } }
  function recall() {
    try {
      var held = JSON.parse(localStorage.getItem(given.key));
      if (held && Array.isArray(held.rows)) { rows = held.rows.map(copy); set = given.sets.indexOf(held.set) < 0 ? set : held.set; }
    } catch (problem) { return; }
  }

  /* the file */
  function quoted(text) { return /[",\r\n]/.test(text) ? "\"" + text.replace(/"/g, "\"\"") + "\"" : text; }
  function noted() {
    var done = rows.filter(function (row) { return row.start; });
    done.sort(function (a, b) { var x = a.date + a.start + a.set, y = b.date + b.start + b.set; return x < y ? -1 : x > y ? 1 : 0; });
    return done;
  }
  function csv() {
    var lines = [given.columns.join(",")];
    noted().forEach(function (row) { lines.push(given.columns.map(function (name) { return quoted(String(row[name]).replace(/[\r\n]+/g, " ")); }).join(",")); });
    return lines.join("\n") + "\n";
  }
  function cells(text) {
    var all = [], row = [], cell = "", inside = false, i, c;
    for (i = 0; i < text.length; i++) {
      c = text[i];
      if (inside) { if (c === "\"" && text[i + 1] === "\"") { cell += c; i++; } else if (c === "\"") { inside = false; } else { cell += c; } }
      else if (c === "\"") { inside = true; }
      else if (c === ",") { row.push(cell); cell = ""; }
      else if (c === "\n") { row.push(cell); all.push(row); row = []; cell = ""; }
      else if (c !== "\r") { cell += c; }
    }
    if (cell || row.length) { row.push(cell); all.push(row); }
    return all;
  }
  function take(text) {
    var all = cells(text), head = all.shift() || [], count = 0;
    if (head.indexOf("set") < 0 || head.indexOf("start") < 0) { return "That is no file of this form: it needs the columns set and start."; }
    all.forEach(function (cellsOfRow) {
      var row = { added: "yes" };
      head.forEach(function (name, place) { row[name] = cellsOfRow[place] || ""; });
      var same = rows.filter(function (other) { return ["set", "date", "start", "activity"].every(function (name) { return other[name] === row[name]; }); });
      if (row.start && !same.length) { rows.push(copy(row)); count += 1; }
    });
    return count + " visits taken over from the other file.";
  }
  function save() {
    var link = make("a", "", { download: "notes.csv" });
    link.href = URL.createObjectURL(new Blob([csv()], { type: "text/csv" }));
    document.body.appendChild(link);
    link.click();
    link.remove();
    document.getElementById("text").value = csv();
    say(noted().length + " visits saved as notes.csv in the phone's downloads. Copy it into the campaign folder.");
  }
  function say(text) { status.textContent = text; }

  /* the page */
  function field(row, name, label, kind, more) {
    var holder = make("label", label), input;
    if (kind === "choice") {
      input = make("select");
      [""].concat(more).forEach(function (value) { input.appendChild(make("option", value.replace(/_/g, " "), { value: value })); });
    } else {
      input = make("input", "", { type: kind, autocomplete: "off" });
      Object.keys(more || {}).forEach(function (key) { input.setAttribute(key, more[key]); });
    }
    input.value = row[name];
    input.setAttribute("data-name", name);
    input.addEventListener("change", function () { row[name] = input.value; keep(); if (name === "activity") { paint(); } count(); });
    holder.appendChild(input);
    return holder;
  }
  function stamp(row, name, label) {
    var holder = make("div", "", { "class": "stamp" }), button = make("button", label, { type: "button", "data-stamp": name });
    var input = field(row, name, name + ", by hand", "time", { step: "1" });
    button.addEventListener("click", function () {
      var moment = now();
      row[name] = moment.time;
      if (name === "start" || !row.date) { row.date = moment.date; }
      keep();
      if (name === "end") { next(row); }
      paint();
    });
    button.disabled = Boolean(row[name]);
    holder.appendChild(button);
    holder.appendChild(input);
    return holder;
  }
  function next(row) {
    var own = rows.filter(function (other) { return other.set === set; });
    open = own.slice(own.indexOf(row) + 1).filter(function (other) { return !other.start; })[0] || null;
  }
  function title(row) {
    var parts = [row.field || row.activity.replace(/_/g, " ") || "visit"];
    if (row.field && row.activity && row.activity !== "walk") { parts.push(row.activity.replace(/_/g, " ")); }
    if (row.transect) { parts.push("transect " + row.transect); }
    if (row.pass) { parts.push("pass " + row.pass); }
    if (row.heading) { parts.push(row.heading + "\u00b0"); }
    return (row.planned ? row.planned + " " : "") + parts.join(", ");
  }
  function mark(row) { return row.start && (row.end || row.activity === "clock_check") ? "\u2713 " : row.start ? "\u25b6 " : ""; }
  function skies(row) {
    var holder = make("div", "", { "class": "skies", role: "group", "aria-label": "sky" });
    given.skies.forEach(function (name) {
      var button = make("button", name, { type: "button", "aria-pressed": String(row.sky === name) });
      button.addEventListener("click", function () { row.sky = row.sky === name ? "" : name; keep(); paint(); });
      holder.appendChild(button);
    });
    return holder;
  }
  function body(row) {
    var holder = make("div", "", { "class": "visit" }), onGround = given.without.indexOf(row.activity) < 0;
    if (row.added) {
      holder.appendChild(field(row, "activity", "what", "choice", given.activities));
      if (onGround) {
        holder.appendChild(field(row, "field", "field", "text", { list: "fields" }));
        holder.appendChild(field(row, "surface", "surface", "choice", given.surfaces));
        holder.appendChild(field(row, "transect", "transect", "text"));
        holder.appendChild(field(row, "pass", "pass", "text"));
        holder.appendChild(field(row, "heading", "heading, \u00b0", "number", { min: "0", max: "360", inputmode: "numeric" }));
      }
    }
    holder.appendChild(stamp(row, "start", row.activity === "clock_check" ? "Now (reference time)" : "Start now"));
    if (row.activity === "clock_check") {
      holder.appendChild(field(row, "logger_shows", "the logger shows", "time", { step: "1" }));
    } else {
      holder.appendChild(stamp(row, "end", "End now"));
    }
    if (onGround) {
      holder.appendChild(skies(row));
      holder.appendChild(field(row, "canopy_height", "canopy, m", "number", { min: "0", max: "20", step: "0.01", inputmode: "decimal" }));
    }
    holder.appendChild(field(row, "remark", "remark", "text"));
    var clear = make("button", row.added ? "Delete this visit" : "Clear this visit", { type: "button", "class": "quiet" });
    clear.addEventListener("click", function () {
      if (row.start && !window.confirm("Clear what is noted of this visit?")) { return; }
      if (row.added) { rows.splice(rows.indexOf(row), 1); } else { row.start = row.end = row.date = row.logger_shows = row.sky = ""; }
      keep();
      paint();
    });
    holder.appendChild(clear);
    return holder;
  }
  function count() {
    var own = rows.filter(function (row) { return row.set === set; });
    say(own.filter(function (row) { return row.start; }).length + " of " + own.length + " visits of " + set + " noted.");
  }
  function paint() {
    list.textContent = "";
    rows.filter(function (row) { return row.set === set; }).forEach(function (row) {
      var card = make("details"), head = make("summary", mark(row) + title(row));
      card.open = row === open;
      card.appendChild(head);
      head.addEventListener("click", function (event) { event.preventDefault(); open = open === row ? null : row; paint(); });
      if (card.open) { card.appendChild(body(row)); }
      list.appendChild(card);
    });
    document.querySelectorAll("#sets button").forEach(function (button) { button.setAttribute("aria-pressed", String(button.textContent === set)); });
    count();
  }
  function add() {
    var last = rows.filter(function (row) { return row.set === set && row.start; }).pop() || {};
    var row = copy({ set: set, activity: "walk", field: last.field, surface: last.surface, canopy_height: last.canopy_height, added: "yes" });
    rows.push(row);
    open = row;
    keep();
    paint();
  }

  given.sets.forEach(function (name) {
    var button = make("button", name, { type: "button" });
    button.addEventListener("click", function () { set = name; open = null; keep(); paint(); });
    document.getElementById("sets").appendChild(button);
  });
  given.fields.forEach(function (name) { document.getElementById("fields").appendChild(make("option", "", { value: name })); });
  document.getElementById("add").addEventListener("click", add);
  document.getElementById("save").addEventListener("click", save);
  document.getElementById("other").addEventListener("change", function () {
    Array.prototype.forEach.call(this.files, function (file) {
      var reader = new FileReader();
      reader.onload = function () { var said = take(String(reader.result)); keep(); paint(); say(said); };
      reader.readAsText(file);
    });
  });
  function tick() { document.getElementById("clock").textContent = now().time; }
  recall();
  open = rows.filter(function (row) { return row.set === set && !row.start; })[0] || null;
  paint();
  tick();
  setInterval(tick, 250);
  window.headlandNotes = { csv: csv, take: take };
}());
