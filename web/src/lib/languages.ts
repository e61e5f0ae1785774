/** Languages that come with the program, by the names jobs and firms state them by, each as its own people call it. */
export const LANGUAGES = [
  { value: 'en', text: 'English' },
  { value: 'en-us', text: 'English (US)' },
  { value: 'es', text: 'Español' },
] as const;

export type LanguageName = (typeof LANGUAGES)[number]['value'];

/** As a list to choose from takes them. */
export const LANGUAGE_OPTIONS: { value: string; text: string }[] = [...LANGUAGES];

/** A language by its name; English where there is none of that name. */
export const languageOf = (name: string | null | undefined): LanguageName =>
  LANGUAGES.find((l) => l.value === name)?.value ?? 'en';
