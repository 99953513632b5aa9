// Tells a scanner that types like a keyboard from a hand.
//
// With a prefix, everything from the prefix to Enter is a scan. Without one its pace tells it: every character follows the
// one before within the longest gap, to an Enter that follows as fast. No field keeps what a scan typed into it.

/**
 * @typedef {object} Settings
 * @property {string} prefix the character that the scanner types first; empty when it has none
 * @property {number} longestGap the longest pause between two characters, in milliseconds
 * @property {number} fewest the fewest characters of a scan
 */

/** After so long without an Enter, a prefix was somebody typing that character. */
const PREFIX_WAITS = 300;

/**
 * Reads the settings from a form's attributes.
 * @param {HTMLElement} form
 * @returns {Settings}
 */
export function settingsOf(form) {
  return {
    prefix: form.dataset.prefix ?? "",
    longestGap: Number(form.dataset.longestGap) || 35,
    fewest: Number(form.dataset.fewest) || 4,
  };
}

/**
 * Listens on a document. What belongs to a scan reaches no field, nor any other listener.
 * @param {Document} target
 * @param {Settings} settings
 * @param {(text: string) => void} onScan
 */
export function listen(target, settings, onScan) {
  /** @type {string} */ let typed = "";
  /** @type {number} */ let last = -Infinity;
  /** @type {(() => void) | undefined} */ let restore;
  /** @type {boolean} */ let prefixed = false;
  /** @type {number | undefined} */ let waiting;

  const forget = () => {
    typed = "";
    restore = undefined;
    prefixed = false;
    clearTimeout(waiting);
  };

  /** Nobody scanned: what was held back is typed after all. */
  const giveBack = () => {
    const text = settings.prefix + typed;
    forget();
    const field = target.activeElement;
    if (isTextField(field)) {
      field.setRangeText(text, field.selectionStart ?? 0, field.selectionEnd ?? 0, "end");
      field.dispatchEvent(new Event("input", { bubbles: true }));
    }
  };

  target.addEventListener(
    "keydown",
    (event) => {
      const key = event.key;
      const gap = event.timeStamp - last;
      if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing) {
        forget();
        return;
      }
      // A scanner types capitals with Shift.
      if (key === "Shift" || key === "CapsLock") return;
      last = event.timeStamp;

      if (prefixed) {
        event.preventDefault();
        event.stopImmediatePropagation();
        clearTimeout(waiting);
        if (key === "Enter" || key === "Tab") {
          const text = typed;
          forget();
          if (text.length > 0) onScan(text);
        } else {
          if (key.length === 1) typed += key;
          waiting = setTimeout(giveBack, PREFIX_WAITS);
        }
        return;
      }
      if (settings.prefix !== "" && key === settings.prefix && !event.repeat) {
        event.preventDefault();
        event.stopImmediatePropagation();
        forget();
        prefixed = true;
        waiting = setTimeout(giveBack, PREFIX_WAITS);
        return;
      }
      // Where there is a prefix, nothing else is a scan.
      if (settings.prefix !== "") return;

      if (event.repeat || gap > settings.longestGap) forget();
      if (key === "Enter" || key === "Tab") {
        const text = typed;
        const undo = restore;
        forget();
        if (text.length >= settings.fewest) {
          event.preventDefault();
          event.stopImmediatePropagation();
          undo?.();
          onScan(text);
        }
      } else if (key.length === 1) {
        // What the field held before the first character is what it holds after the scan.
        if (typed === "") restore = snapshot(target.activeElement);
        typed += key;
      } else {
        forget();
      }
    },
    { capture: true },
  );
}

/**
 * @param {Element | null} element
 * @returns {element is HTMLInputElement | HTMLTextAreaElement}
 */
function isTextField(element) {
  if (element instanceof HTMLTextAreaElement) return true;
  return element instanceof HTMLInputElement && ["text", "search", "password", "tel", "url"].includes(element.type);
}

/**
 * How to put a field back as it is now.
 * @param {Element | null} element
 * @returns {(() => void) | undefined}
 */
function snapshot(element) {
  if (element instanceof HTMLSelectElement) {
    const chosen = element.selectedIndex;
    return () => {
      element.selectedIndex = chosen;
    };
  }
  if (element instanceof HTMLInputElement && (element.type === "radio" || element.type === "checkbox")) {
    const checked = element.checked;
    return () => {
      element.checked = checked;
    };
  }
  if (!isTextField(element)) return element instanceof HTMLInputElement ? valueOf(element) : undefined;
  const { value, selectionStart, selectionEnd } = element;
  return () => {
    element.value = value;
    element.setSelectionRange(selectionStart, selectionEnd);
    element.dispatchEvent(new Event("input", { bubbles: true }));
  };
}

/**
 * How to put back a field whose selection cannot be read: a day, a number.
 * @param {HTMLInputElement} element
 * @returns {(() => void) | undefined}
 */
function valueOf(element) {
  // Nobody types into these, and a file's name is not to be set.
  if (["file", "button", "submit", "reset", "image"].includes(element.type)) return undefined;
  const { value } = element;
  return () => {
    // A day that is half typed has no value: emptied first, its parts go too.
    element.value = "";
    element.value = value;
    element.dispatchEvent(new Event("input", { bubbles: true }));
  };
}
