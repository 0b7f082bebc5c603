/* Locks the page when nobody has used it for a while, and opens it for the same person.
   What was typed stays in the page under the lock; it is only hidden. */
"use strict";
(() => {
  const told = document.currentScript.dataset;
  const idle = Number(told.idle) * 1000;
  const step = Math.min(1000, idle / 4);
  const USED = "coretrack-used";
  const OPENED = "coretrack-opened";
  let token = told.token;
  let used = Date.now();
  let reported = used;
  let noted = 0;
  let badge = "";
  let cover = null;
  let wasFocused = null;

  /* Tabs of one browser share their session, so using one of them is using all of them. */
  const shared = (name, value) => {
    try {
      if (value === undefined) return Number(localStorage.getItem(name)) || 0;
      localStorage.setItem(name, String(value));
    } catch { /* A browser that keeps nothing locks each tab for itself. */ }
    return 0;
  };

  const send = async (address, fields, again = true) => {
    const body = new URLSearchParams(fields);
    const answer = await fetch(address, {
      method: "POST", body, keepalive: true,
      headers: { Accept: "application/json", "X-CSRFToken": token },
    });
    const said = await answer.json().catch(() => ({}));
    if (answer.status === 400 && said.token && again) {
      useToken(said.token);
      return send(address, fields, false);
    }
    return { status: answer.status, ...said };
  };

  const useToken = (fresh) => {
    token = fresh;
    for (const input of document.querySelectorAll('input[name="csrf_token"]')) input.value = fresh;
  };

  const note = () => {
    if (cover) return;
    used = Date.now();
    if (used - noted > 500) {
      noted = used;
      shared(USED, used);
    }
  };

  const part = (name, attributes, ...inside) => {
    const made = document.createElement(name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    made.append(...inside);
    return made;
  };

  const makeCover = () => {
    const secret = part("input", {
      id: "lock-secret", name: "secret", type: "password", autocomplete: "current-password",
      maxlength: "200",
    });
    const said = part("p", { class: "said-wrong", role: "alert", hidden: "" });
    const form = part(
      "form", { class: "card" },
      part("h2", {}, told.person),
      part("p", { class: "ask" }, part("label", { for: "lock-secret" }, "PIN or password"), secret),
      part("p", {}, part("button", { class: "primary" }, "Unlock")),
    );
    const made = part(
      "dialog", { class: "lock", "aria-labelledby": "lock-title" },
      part(
        "div", {},
        part("h1", { id: "lock-title" }, "Locked"),
        part("p", {}, "What you typed is still here. Nothing was sent."),
        said, form,
        part("p", {}, part("a", { href: told.signIn }, "Somebody else: sign in")),
      ),
    );
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      unlock(secret, said);
    });
    made.addEventListener("cancel", (event) => event.preventDefault());
    made.addEventListener("close", () => { if (cover === made) made.showModal(); });
    return made;
  };

  const show = (said, message) => {
    said.textContent = message;
    said.hidden = !message;
  };

  const unlock = async (secret, said) => {
    const typed = secret.value;
    secret.value = "";
    if (!typed) return;
    try {
      const answer = await send(told.unlock, { secret: typed, badge, name: told.person });
      if (answer.status === 200 && answer.ok) {
        if (answer.token) useToken(answer.token);
        shared(OPENED, Date.now());
        uncover();
        return;
      }
      badge = answer.badge || "";
      show(said, answer.message || "That did not work; sign in again.");
    } catch {
      show(said, "The shop's computer does not answer. Try again in a moment.");
    }
    secret.focus();
  };

  const lock = (tell = true) => {
    if (cover) return;
    wasFocused = document.activeElement;
    cover = makeCover();
    document.body.append(cover);
    document.documentElement.classList.add("locked");
    cover.showModal();
    cover.querySelector("input").focus();
    if (tell) send(told.lock, {}).catch(() => {});
  };

  const uncover = () => {
    const gone = cover;
    cover = null;
    badge = "";
    document.documentElement.classList.remove("locked");
    gone.close();
    gone.remove();
    used = reported = Date.now();
    shared(USED, used);
    if (wasFocused && wasFocused.isConnected) wasFocused.focus();
    document.dispatchEvent(new CustomEvent("station:unlocked"));
  };

  /* Another tab was unlocked: this one opens too, if the same person is still signed in. */
  const look = async () => {
    const answer = await fetch(told.awake, { headers: { Accept: "application/json" } });
    const said = await answer.json();
    if (cover && answer.ok && !said.locked && said.person === told.person) uncover();
  };

  const check = () => {
    if (cover) return;
    used = Math.max(used, shared(USED));
    if (Date.now() - used > idle) {
      lock();
    } else if (used > reported && Date.now() - reported > idle / 4) {
      /* Typing alone sends nothing, so the server is told that somebody is here. */
      reported = Date.now();
      send(told.awake, {}).then((said) => {
        if (said.status === 423 || said.status === 401 || said.locked) lock(false);
      }).catch(() => {});
    }
  };

  for (const kind of ["keydown", "pointerdown", "wheel", "input", "touchstart"]) {
    window.addEventListener(kind, note, { capture: true, passive: true });
  }
  /* While the lock is shown, no key and no scan reaches the scripts of the page under it. */
  for (const kind of ["keydown", "keypress", "keyup", "paste", "beforeinput"]) {
    window.addEventListener(kind, (event) => {
      if (!cover) return;
      event.stopImmediatePropagation();
      const escape = kind === "keydown" && event.key === "Escape";
      if (escape || !cover.contains(event.target)) event.preventDefault();
    }, { capture: true });
  }
  window.addEventListener("storage", (event) => {
    if (event.key === OPENED && cover) look().catch(() => {});
  });
  /* A scan that met a lock on the server: the page locks too, and the scan is kept. */
  document.addEventListener("station:locked", (event) => {
    if (event.detail.why === "locked") lock(false);
  });
  window.addEventListener("pageshow", check);
  document.addEventListener("click", (event) => {
    if (event.target.closest("[data-lock-now]")) {
      event.preventDefault();
      lock();
    }
  });
  shared(USED, used);
  setInterval(check, step);
})();
