"""Which language a person reads, and the catalogues that say each text in it. The texts are written in English."""
