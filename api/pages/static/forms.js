// Keeps what was typed: asks before a page with unsent changes is left, and looks whether the same user is still
// signed in before a form is sent. What was typed stays in the page and nowhere else. Without this file forms are sent
// at once.

const { user, unsent } = document.body.dataset;

const typed = (field) => field.name && (field.matches("textarea, select") ||
  field.matches("input") && !["hidden", "submit", "button"].includes(field.type));

// changed says whether a field differs from how the page had it.
function changed(field) {
  if (!typed(field)) return false;
  if (field.type === "checkbox" || field.type === "radio") return field.checked !== field.defaultChecked;
  if (!field.options) return field.value !== field.defaultValue;
  const options = [...field.options];
  if (!field.multiple && !options.some((o) => o.defaultSelected)) return field.selectedIndex > 0;
  return options.some((o) => o.selected !== o.defaultSelected);
}

// forms are those in which something is typed that is to be kept; a search or a filter is asked anew.
const forms = !user ? [] : [...document.querySelectorAll('main form[method="post"]')]
  .filter((form) => !form.querySelector('[type="password"]') && [...form.elements].some(typed));

const path = (form) => new URL(form.action).pathname;

let sending; // the form that is on its way
let looking = false;

// unsaved says whether a form would be lost: something in it was changed, or the server showed it again and did not
// save it.
function unsaved(form) {
  if (form === sending) return false;
  return [...form.elements].some(changed) ||
    unsent !== undefined && path(form) === location.pathname && (!sending || path(sending) !== path(form));
}

// hindrance says why a form cannot be sent now; empty if it can.
async function hindrance() {
  try {
    const answer = await fetch("/log/who", { redirect: "manual", cache: "no-store" });
    if (answer.ok) return (await answer.json()).owner === user ? "" : "Another user is signed in now.";
    return answer.type === "opaqueredirect" ? "You were signed out." : "The server cannot take the form at the moment.";
  } catch {
    return "The server cannot be reached.";
  }
}

function tell(form, why) {
  form.querySelector(".unsent")?.remove();
  const box = document.createElement("div");
  box.className = "refused unsent";
  box.role = "alert";
  const said = document.createElement("p");
  said.append(`${why} Nothing was sent, and what you typed is still here. `);
  if (why.includes("signed")) {
    const link = document.createElement("a");
    link.href = "/sign-in";
    link.target = "_blank";
    link.rel = "noopener";
    link.textContent = "Sign in in a new tab";
    said.append(link, ", come back to this one and send the form again.");
  } else said.append("Wait a little, then send it again.");
  box.append(said);
  form.prepend(box);
  box.scrollIntoView({ block: "nearest" });
}

document.addEventListener("submit", async (e) => {
  const form = e.target;
  if (form === sending || !forms.includes(form)) return;
  e.preventDefault();
  if (looking) return;
  looking = true;
  const why = await hindrance();
  looking = false;
  if (why) {
    tell(form, why);
    return;
  }
  form.querySelector(".unsent")?.remove();
  sending = form;
  form.requestSubmit(e.submitter);
});
document.addEventListener("input", () => { sending = undefined; });
addEventListener("pageshow", () => { sending = undefined; });
addEventListener("beforeunload", (e) => {
  if (forms.some(unsaved)) e.preventDefault();
});
