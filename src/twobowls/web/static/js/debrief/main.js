// @ts-check
// A finding points at the row of a table that is folded away: unfold it, then go there.

import { unfold } from "./unfold.js";

const reveal = () => unfold(document, decodeURIComponent(location.hash.slice(1)));
addEventListener("hashchange", reveal);
reveal();
