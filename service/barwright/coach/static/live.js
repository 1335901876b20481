// Keeps a part of a page as it is now: the service says that something happened, the part is fetched anew.
(function () {
  "use strict";
  var place = document.querySelector("[data-live]");
  if (!place || !window.EventSource) { return; }
  var part = place.getAttribute("data-part");
  var state = document.querySelector("[data-live-state]");
  var waiting = null, running = false, again = false;

  function say(words, kind) {
    if (state && state.textContent !== words) { state.textContent = words; state.className = "live-state " + kind; }
  }

  function fetchPart() {
    if (running) { again = true; return; }
    running = true;
    fetch(window.location.href, { cache: "no-store" })
      .then(function (answer) { if (!answer.ok) { throw new Error(String(answer.status)); } return answer.text(); })
      .then(function (html) {
        if (document.body.classList.contains("waiting")) { again = true; return; } // a click is being answered
        var fresh = new DOMParser().parseFromString(html, "text/html").querySelector(part);
        var now = document.querySelector(part);
        if (fresh && now && fresh.innerHTML !== now.innerHTML && !now.querySelector("form :focus, .change-form")) {
          var open = Array.prototype.map.call(now.querySelectorAll("details"), function (one) { return one.open; });
          now.innerHTML = fresh.innerHTML;
          Array.prototype.forEach.call(now.querySelectorAll("details"), function (one, n) { one.open = open[n] || one.open; });
          if (window.htmx) { window.htmx.process(now); }
        }
        say("Live", "on");
      })
      .catch(function () { say("Cannot be reached, trying again", "off"); setTimeout(soon, 3000); })
      .then(function () { running = false; if (again) { again = false; soon(); } });
  }

  function soon() {
    clearTimeout(waiting);
    waiting = setTimeout(fetchPart, 120);
  }

  var source = new EventSource(place.getAttribute("data-live"));
  source.addEventListener("open", function () { say("Catching up", "wait"); soon(); });
  source.addEventListener("changed", soon);
  source.addEventListener("error", function () { say("Offline, trying again", "off"); });
})();
