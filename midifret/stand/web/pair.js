// The pairing page: a code typed, or taken from the end of the address that the QR code has.

const ADDRESS = "/pair/try";
const HEADER = "midifret-code";

/** A code without what people put between its letters. */
export function plainCode(typed) {
  return typed.toUpperCase().replace(/[^A-Z0-9]/g, "");
}

/** The code at the end of an address (its fragment, which no server is told), empty for none. */
export function codeOf(hash) {
  const found = /^#(?:code=)?([A-Za-z0-9-]{1,16})$/.exec(hash);
  return found ? plainCode(found[1]) : "";
}

/** How long to wait before the next try, in words; empty for not at all. */
export function waitWords(wait_s) {
  if (typeof wait_s !== "number" || !(wait_s > 0)) return "";
  const [number, unit] = wait_s < 90 ? [Math.ceil(wait_s), "s"] : [Math.ceil(wait_s / 60), "minutes"];
  return ` Wait ${number} ${unit} before the next try.`;
}

async function tried(code) {
  let answer;
  try {
    answer = await fetch(ADDRESS, { headers: { [HEADER]: code }, cache: "no-store", redirect: "error" });
  } catch {
    return "No answer from midifret: is it still running, and is this device in the same network?";
  }
  const told = await answer.json().catch(() => null);
  if (answer.ok && told?.paired === true) return "";
  const words = typeof told?.words === "string" ? told.words.slice(0, 200) : "";
  return (words || "This code does not hold: type the one that is shown now.") + waitWords(told?.wait_s);
}

function begin() {
  const form = document.getElementById("form");
  const field = document.getElementById("code");
  const button = document.getElementById("pair");
  const words = document.getElementById("words");
  let busy = false;

  const pair = async (code) => {
    if (busy) return;
    if (code === "") {
      words.textContent = "Type the code first.";
      field.focus();
      return;
    }
    busy = true;
    button.disabled = true;
    words.textContent = "";
    const wrong = await tried(code);
    busy = false;
    button.disabled = false;
    if (wrong === "") {
      location.replace("/");
      return;
    }
    words.textContent = wrong;
    field.setAttribute("aria-invalid", "true");
    field.focus();
    field.select();
  };

  form.addEventListener("submit", (event) => {
    event.preventDefault();
    void pair(plainCode(field.value));
  });
  const code = codeOf(location.hash);
  if (location.hash !== "") history.replaceState(null, "", location.pathname); // kept in no history
  if (code !== "") {
    field.value = code;
    void pair(code);
  } else {
    field.focus();
  }
}

if (document.getElementById("form") !== null) begin();
