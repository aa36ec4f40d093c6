/* Time figures that zoom and read out: one for each set, drawn from the JSON in the page. Nothing is loaded from anywhere.
   Pointer: wheel zooms, drag moves, double click shows all. Keys: + and - zoom, arrows move the reading, 0 shows all. */
(function () {
  "use strict";
  var source = document.getElementById("explore-data");
  if (!source) { return; }
  var all = JSON.parse(source.textContent), H = 330, L = 52, R = 8, T = 34, B = 26;
  var steps = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 43200, 86400, 172800, 604800];

  function safe(text) { return String(text).replace(/[&<>"]/g, function (c) { return "&#" + c.charCodeAt(0) + ";"; }); }
  function clock(t, withDay) { var text = new Date(1000 * t).toISOString(); return (withDay ? text.slice(0, 10) + " " : "") + text.slice(11, 19); }
  function signed(v) { return (v < 0 ? "\u2212" : "") + Math.abs(v).toFixed(1); }
  function nearest(list, t) {
    var low = 0, high = list.length - 1;
    while (high - low > 1) { var middle = (low + high) >> 1; if (list[middle] < t) { low = middle; } else { high = middle; } }
    return Math.abs(list[low] - t) <= Math.abs(list[high] - t) ? low : high;
  }

  function draw(place, name) {
    var own = all.sets[name], n = own.seconds.length, names = Object.keys(all.looks);
    var first = own.seconds[0] - own.block, last = own.seconds[n - 1] + own.block, from = first, to = last, at = Math.floor(n / 2);
    var bands = all.bands.filter(function (b) { return b.set === name; });
    place.innerHTML = "<h3>Set " + safe(name) + "</h3><p class=\"keys\">Wheel, two fingers, or + and \u2212: zoom. Drag: move. Touch or arrows: read values. Double click or 0: all. Times are UTC by the corrected clock.</p>" +
      "<div class='canvas' tabindex='0' role='application' aria-label='Components of set " + safe(name) + " against time; arrow keys read values, plus and minus zoom'></div><p class='reading' aria-live='polite'></p>";
    var canvas = place.querySelector(".canvas"), reading = place.querySelector(".reading");
    var W = 900;
    function fit() { W = Math.max(320, Math.min(900, canvas.clientWidth || 900)); }
    function x(t) { return L + (t - from) / (to - from) * (W - L - R); }
    function time(px) { return from + (px - L) / (W - L - R) * (to - from); }

    function paint() {
      var low = 0, high = 1, i, j, parts = [];
      for (i = 0; i < n; i++) {
        if (own.seconds[i] < from || own.seconds[i] > to) { continue; }
        for (j = 0; j < names.length; j++) { var v = own[names[j]][i]; if (v !== null) { low = Math.min(low, v); high = Math.max(high, v); } }
      }
      high += 0.05 * (high - low);
      function y(v) { return H - B - (v - low) / (high - low) * (H - B - T); }
      bands.forEach(function (b, k) {
        var a = Math.max(x(b.start), L), e = Math.min(x(b.end), W - R);
        if (e <= L || a >= W - R || e <= a) { return; }
        parts.push("<rect x='" + a.toFixed(1) + "' y='" + T + "' width='" + (e - a).toFixed(1) + "' height='" + (H - B - T) + "' class='band' stroke-width='0.5'/>");
        if (e - a > 7 * b.label.length) { parts.push("<text x='" + (a + 2).toFixed(1) + "' y='" + (T - 5 - 11 * (k % 2)) + "'>" + safe(b.label) + "</text>"); }
      });
      var gap = (high - low) / 5, power = Math.pow(10, Math.floor(Math.log10(gap))), nice = [1, 2, 5, 10].map(function (m) { return m * power; }).find(function (m) { return m >= gap; });
      for (var v = Math.ceil(low / nice) * nice; v <= high; v += nice) {
        parts.push("<line x1='" + L + "' x2='" + (W - R) + "' y1='" + y(v).toFixed(1) + "' y2='" + y(v).toFixed(1) + "' class='grid'/><text x='" + (L - 5) + "' y='" + (y(v) + 4).toFixed(1) + "' text-anchor='end'>" + Math.round(v) + "</text>");
      }
      var step = steps.find(function (s) { return (to - from) / s <= W / 110; }) || 31536000;
      for (var t = Math.ceil(from / step) * step; t <= to; t += step) {
        parts.push("<text x='" + x(t).toFixed(1) + "' y='" + (H - 8) + "' text-anchor='middle'>" + (step >= 86400 ? clock(t, true).slice(0, 10) : clock(t).slice(0, step < 60 ? 8 : 5)) + "</text><line x1='" + x(t).toFixed(1) + "' x2='" + x(t).toFixed(1) + "' y1='" + (H - B) + "' y2='" + (H - B + 4) + "' class='tick'/>");
      }
      names.forEach(function (q) {
        var path = "", broken = true, before = -1;
        for (i = 0; i < n; i++) {
          var value = own[q][i];
          if (value === null || own.run[i] !== before) { broken = true; }
          before = own.run[i];
          if (value === null || own.seconds[i] < from - 60 || own.seconds[i] > to + 60) { continue; }
          path += (broken ? "M" : "L") + x(own.seconds[i]).toFixed(1) + " " + y(value).toFixed(1);
          broken = false;
        }
        parts.push("<path d='" + path + "' fill='none' stroke='" + all.looks[q].colour + "' stroke-width='1.5' stroke-dasharray='" + all.looks[q].dash + "' clip-path='inset(0)'/>");
      });
      parts.push("<line class='cursor' x1='" + x(own.seconds[at]).toFixed(1) + "' x2='" + x(own.seconds[at]).toFixed(1) + "' y1='" + T + "' y2='" + (H - B) + "'/>");
      canvas.innerHTML = "<svg viewBox='0 0 " + W + " " + H + "' width='100%' aria-hidden='true' font-size='11'><text x='2' y='12'>W m\u207b\u00b2</text>" + parts.join("") + "</svg>";
      read();
    }
    function read() {
      var t = own.seconds[at], band = bands.find(function (b) { return t >= b.start && t < b.end; });
      reading.innerHTML = "<b>" + clock(t, true) + " UTC</b>" + (own.block > 1 ? " (mean of " + own.block + " s)" : "") + (band ? ", " + safe(band.label) + (band.surface ? " (" + safe(band.surface) + ")" : "") : "") + ": " +
        names.map(function (q) {
          var look = all.looks[q];
          return "<span><svg width='26' height='8' aria-hidden='true'><line x1='0' x2='26' y1='4' y2='4' stroke='" + look.colour + "' stroke-width='2' stroke-dasharray='" + look.dash + "'/></svg> " + safe(look.title) + " " + (own[q][at] === null ? "none" : signed(own[q][at])) + "</span>";
        }).join(", ") + " W m\u207b\u00b2";
    }
    function show(a, b) {
      var width = Math.min(Math.max(b - a, 10 * own.block), last - first);
      from = Math.min(Math.max(a, first), last - width); to = from + width; paint();
    }
    function zoom(by, around) { show(around - (around - from) * by, around + (to - around) * by); }
    function of(event) { var box = canvas.getBoundingClientRect(); return time((event.clientX - box.left) / box.width * W); }

    canvas.addEventListener("wheel", function (event) { event.preventDefault(); zoom(event.deltaY > 0 ? 1.25 : 0.8, of(event)); }, {passive: false});
    canvas.addEventListener("dblclick", function () { show(first, last); });
    var held = null, fingers = new Map();
    function apart() { var across = Array.from(fingers.values()); return Math.max(Math.abs(across[0] - across[1]), 20); }
    function lift(event) { fingers.delete(event.pointerId); held = null; }
    canvas.addEventListener("pointerdown", function (event) {
      canvas.setPointerCapture(event.pointerId);
      fingers.set(event.pointerId, event.clientX);
      held = of(event); at = nearest(own.seconds, held); paint();
    });
    canvas.addEventListener("pointerup", lift);
    canvas.addEventListener("pointercancel", lift);
    canvas.addEventListener("pointermove", function (event) {
      if (fingers.size === 2 && fingers.has(event.pointerId)) {
        var before = apart();
        fingers.set(event.pointerId, event.clientX);
        zoom(before / apart(), own.seconds[at]);
      } else if (held !== null) { var moved = held - of(event); show(from + moved, to + moved); } else { at = nearest(own.seconds, of(event)); paint(); }
    });
    canvas.addEventListener("keydown", function (event) {
      var key = event.key;
      if (key === "+" || key === "=") { zoom(0.6, own.seconds[at]); }
      else if (key === "-") { zoom(1 / 0.6, own.seconds[at]); }
      else if (key === "0") { show(first, last); }
      else if (key === "ArrowLeft" || key === "ArrowRight") {
        at = Math.min(Math.max(at + (key === "ArrowLeft" ? -1 : 1), 0), n - 1);
        var t = own.seconds[at], width = to - from;
        if (t < from || t > to) { show(t - width / 2, t + width / 2); } else { paint(); }
      } else { return; }
      event.preventDefault();
    });
    window.addEventListener("resize", function () { fit(); paint(); });
    fit();
    paint();
  }

  document.querySelectorAll(".explore").forEach(function (place) { place.hidden = false; draw(place, place.getAttribute("data-set")); });
}());
