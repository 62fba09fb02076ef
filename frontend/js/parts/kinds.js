// @ts-check
/** The kinds of bike that share a sag target. */

export const KINDS = ["motocross", "enduro", "adventure", "street", "track"].map((kind) => ({ value: kind, text: kind }));
