# One image for every command: serve by default.
FROM python:3.13-slim AS build
WORKDIR /src
COPY requirements.lock pyproject.toml README.md LICENSE ./
COPY service ./service
# The versions of the lock, without what only developers need.
RUN sed -E '/--hash/d; s/ *\\$//' requirements.lock > /pins.txt \
 && python -m venv /opt/barwright \
 && PIP_CONSTRAINT=/pins.txt /opt/barwright/bin/pip install --no-cache-dir .

FROM python:3.13-slim
RUN useradd --system --uid 10001 --home-dir /data barwright && mkdir /data && chown barwright /data
COPY --from=build /opt/barwright /opt/barwright
ENV PATH=/opt/barwright/bin:$PATH PYTHONUNBUFFERED=1 BARWRIGHT_DATA=/data
USER barwright
VOLUME /data
EXPOSE 8400
HEALTHCHECK --interval=30s --timeout=5s --start-period=15s \
  CMD ["python", "-c", "import urllib.request; urllib.request.urlopen('http://127.0.0.1:8400/healthz/ready', timeout=4)"]
ENTRYPOINT ["barwright"]
CMD ["serve", "--host", "0.0.0.0", "--data", "/data"]
