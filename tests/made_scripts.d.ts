/** What app/bundle makes beside the scripts that are written by hand. */
declare module "*/templates.js" {
  export function render(name: string, context: object): string;
  export function useText(pieces: string[]): void;
}
