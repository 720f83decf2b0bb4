// Whether the page came whole. On a weak Wi-Fi one script may fail to come; then none of the
// modules runs, and the page would stay black for ever. So this one stands by itself, in words that
// older browsers read, too. What is said first stands in the page; where not even this script comes,
// page.css shows it, with a plain link.

(() => {
  const SHOW_MS = 8000; // a script that neither comes nor fails (page.css has the same)
  const HANG_MS = 20_000; // then it is loaded anew, though it might still come
  const WAITS_MS = [2000, 4000, 8000, 15_000]; // after the first failure, the second ...
  const ANSWER_MS = 6000;
  const KEY = "plumbstar.loads"; // how often in a row it has been loaded in vain

  const began = performance.now();
  const drawn = () => {
    const stage = document.getElementById("stage");
    return stage !== null && stage.childElementCount > 0;
  };
  let tries = remembered();
  let due = began + HANG_MS * Math.min(tries + 1, 4); // a slow link gets longer each time
  let failed = false;
  let asking = false;
  let shown = false;

  function remembered() {
    try {
      return Number(sessionStorage.getItem(KEY)) || 0;
    } catch {
      return 0; // a forbidden store
    }
  }

  /** @param {number} n */
  function remember(n) {
    tries = n;
    try {
      if (n) sessionStorage.setItem(KEY, String(n));
      else sessionStorage.removeItem(KEY);
    } catch {
      // then each load is the first
    }
  }

  /** @param {string} words */
  function say(words) {
    const line = document.getElementById("unloaded-next");
    if (line && line.textContent !== words) line.textContent = words;
  }

  function show() {
    const box = document.getElementById("unloaded");
    if (!box) return; // not so much of the page is here yet
    shown = true;
    box.classList.add("now");
    if (tries >= 3) say("It tries again by itself. If this goes on, try another browser.");
    else say("It tries again by itself. Is this phone still on the telescope’s Wi-Fi?");
  }

  const later = () => (due = performance.now() + WAITS_MS[Math.min(tries, WAITS_MS.length - 1)]);

  function fail() {
    if (failed) return;
    failed = true;
    later();
  }

  /** Anew, but only once there is an answer: the browser's own page for "no answer" is a white lamp. */
  async function load() {
    if (asking) return;
    asking = true;
    const stop = new AbortController();
    const late = setTimeout(() => stop.abort(), ANSWER_MS);
    try {
      const reply = await fetch(location.pathname, { cache: "no-store", signal: stop.signal });
      if (!reply.ok && reply.status !== 401) throw new Error("busy"); // 401 brings the pairing form
      remember(tries + 1);
      location.reload();
    } catch {
      say("The telescope’s computer does not answer. It tries again by itself.");
    }
    clearTimeout(late);
    asking = false;
    later();
  }

  /** All has come or failed, and something is missing. Asked, not heard: this script may be the last to come. */
  function missing() {
    if (document.readyState !== "complete") return false;
    const root = document.documentElement;
    return !("whole" in root.dataset) || !getComputedStyle(root).getPropertyValue("--thumb");
  }

  // The first drawing may fail, too.
  addEventListener("error", (e) => e instanceof ErrorEvent && !drawn() && fail());
  document.addEventListener("click", (e) => {
    if (!(e.target instanceof Element) || e.target.id !== "unloaded-again") return;
    e.preventDefault();
    say("Asking…");
    load();
  });

  const timer = setInterval(() => {
    const now = performance.now();
    if (missing()) fail();
    else if (drawn() && document.readyState === "complete" && !failed) {
      remember(0);
      clearInterval(timer);
      return;
    }
    // Loaded anew in vain, it does not turn black in between.
    if (!shown && (failed || tries > 0 || now - began > SHOW_MS)) show();
    if (now > due && !asking) load();
  }, 250);
})();
