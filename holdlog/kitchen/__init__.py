"""The jobs of the day, one module a job: the only place where rules, journal and labels meet."""
