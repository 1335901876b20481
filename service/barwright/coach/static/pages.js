// Small helps; every page works without them.
(function () {
  "use strict";

  function sendAtOnce() {
    var form = document.querySelector("form[data-send-at-once]");
    if (form) { form.submit(); }
  }

  // Left and right arrow, or a swipe, step through what a page marks with rel=prev and rel=next.
  function step(rel) {
    var link = document.querySelector('a[rel="' + rel + '"]');
    if (link) { link.click(); }
  }

  document.addEventListener("keydown", function (event) {
    if (event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) { return; }
    if (/^(INPUT|SELECT|TEXTAREA)$/.test(event.target.tagName)) { return; }
    if (event.key === "ArrowLeft") { step("prev"); }
    if (event.key === "ArrowRight") { step("next"); }
  });

  var start = null;
  document.addEventListener("touchstart", function (event) {
    var area = event.target.closest("[data-swipe]");
    start = area && event.touches.length === 1 ? { x: event.touches[0].clientX, y: event.touches[0].clientY } : null;
  }, { passive: true });
  document.addEventListener("touchend", function (event) {
    if (!start) { return; }
    var dx = event.changedTouches[0].clientX - start.x, dy = event.changedTouches[0].clientY - start.y;
    start = null;
    if (Math.abs(dx) > 60 && Math.abs(dx) > 2 * Math.abs(dy)) { step(dx > 0 ? "prev" : "next"); }
  }, { passive: true });

  // A choice that has a button beside it for browsers without scripts sends itself.
  document.addEventListener("change", function (event) {
    var form = event.target.closest("form[data-send-on-change]");
    if (form) { form.requestSubmit(); }
  });

  document.addEventListener("click", function (event) {
    var open = document.querySelector("details.more[open]");
    if (open && !open.contains(event.target)) { open.removeAttribute("open"); }
    if (event.target.closest("[data-print]")) { window.print(); }
    var close = event.target.closest("[data-close]");
    if (close && close.closest("li")) { event.preventDefault(); close.closest("form").remove(); }
  });
  document.addEventListener("keydown", function (event) {
    var open = document.querySelector("details.more[open]");
    if (event.key === "Escape" && open) { open.removeAttribute("open"); open.querySelector("summary").focus(); }
  });

  document.addEventListener("htmx:beforeRequest", function () { document.body.classList.add("waiting"); });
  document.addEventListener("htmx:afterRequest", function () { document.body.classList.remove("waiting"); });
  document.addEventListener("htmx:sendError", function () {
    var notice = document.getElementById("notice");
    notice.textContent = "The service cannot be reached. Nothing was changed; try again when you are back online.";
  });
  document.addEventListener("htmx:beforeSwap", function () { document.getElementById("notice").textContent = ""; });

  sendAtOnce();
})();
