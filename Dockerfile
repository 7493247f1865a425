# The program in one image: web, worker and clock are commands of it (docker-compose.yml).
# Base image, system libraries and lock are checked against the project by tests/rules/test_compose.py.
FROM python:3.11-slim-bookworm AS runtime
RUN apt-get update \
 && apt-get install -y --no-install-recommends \
      libfontconfig1 libharfbuzz-subset0 libpango-1.0-0 libpangoft2-1.0-0 \
 && rm -rf /var/lib/apt/lists/*
ENV PYTHONUNBUFFERED=1 \
    LABSYS_BOOTSTRAP=0 \
    LABSYS_VAR=/srv/labsys/var
WORKDIR /srv/labsys
COPY requirements.lock ./
RUN pip install --no-cache-dir --disable-pip-version-check --require-hashes --only-binary=:all: -r requirements.lock
COPY manage.py pyproject.toml LICENSE ./
COPY labsys labsys
COPY standards standards
COPY instruments instruments
RUN python -m compileall -q labsys standards instruments
# Nothing runs as the system's administrator; the volume takes its owner from this folder.
RUN useradd --system --home-dir /srv/labsys laboratory && install -d -o laboratory var
USER laboratory
EXPOSE 8000
CMD ["python", "manage.py", "run", "web", "--host", "0.0.0.0"]

# What trying out needs besides: a mail server that shows what it gets.
FROM runtime AS trial
USER 0
COPY requirements-dev.lock ./
RUN pip install --no-cache-dir --disable-pip-version-check --require-hashes --only-binary=:all: -r requirements-dev.lock
USER laboratory
