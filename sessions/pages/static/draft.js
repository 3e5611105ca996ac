// What was marked of a trial so far: it outlives a page that is loaded again.

const NAME = "earwitness draft";

/** The marks of somebody's trial, or none yet. */
export function keptDraft(of, trial) {
  try {
    const found = JSON.parse(sessionStorage.getItem(NAME));
    if (found && found.of === of && found.trial === trial) return found;
  } catch {
    // nothing of ours
  }
  return { of, trial, choice: "", marks: {} };
}

export function keepDraft(draft) {
  try {
    sessionStorage.setItem(NAME, JSON.stringify(draft));
  } catch {
    // it is still here while the page is
  }
}
