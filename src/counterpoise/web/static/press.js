// A pressed button says that it works, and takes no second press. Without this script all works
// the same, only more quietly.
const WORDS = { post: "Saving…", get: "Calculating…" };

function busy(form, pressed) {
  form.setAttribute("aria-busy", "true");
  for (const button of form.querySelectorAll("button")) button.disabled = true;
  if (!pressed) return;
  pressed.dataset.said = pressed.textContent;
  pressed.textContent = WORDS[form.method] || WORDS.post;
  pressed.setAttribute("aria-busy", "true");
}

function idle(form) {
  form.removeAttribute("aria-busy");
  for (const button of form.querySelectorAll("button")) {
    button.disabled = false;
    button.removeAttribute("aria-busy");
    if (button.dataset.said) button.textContent = button.dataset.said;
  }
}

addEventListener("submit", (event) => {
  // after the browser has gathered the fields: a disabled button would not be sent
  setTimeout(() => event.defaultPrevented || busy(event.target, event.submitter));
});

// a script that sends a form by itself says so with these
addEventListener("busy", (event) => busy(event.target, event.detail));
addEventListener("idle", (event) => idle(event.target));

// whoever comes back by the browser's arrow meets the page as it was
addEventListener("pageshow", () => document.querySelectorAll("form[aria-busy]").forEach(idle));

// who else is at this job, and what waits on this phone
if (document.getElementById("together")) import("/together.js");
